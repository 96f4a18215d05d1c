"""The head of the reed: a duct with yielding walls."""

import numpy as np
import pytest
from scipy.optimize import brentq

from acoustics.physics.reeds import head, quarter_wave, stop_band, wall_compliance
from acoustics.pipes.reed import Reed
from tests.physics.simple import DRY, LOSSLESS, REFERENCE, apart
from tests.references import kirchhoff

F = np.array([50.0, 300.0, 900.0, 1250.0, 2300.0])
NOTES = Reed(length_mm=31.0, area_mm2=11.0, softness=0.6, resonance_hz=1400.0)  # a head of ordinary size
UNDAMPED = Reed(length_mm=31.0, area_mm2=11.0, softness=0.6, resonance_hz=1400.0, quality=1000.0)


def shut(reed, frequency, gas):
    """Admittance seen from the eye with the lips shut: the head turned round (it is symmetric)."""
    port = head(reed, frequency, gas)
    np.testing.assert_allclose(port[0, 0], port[1, 1], rtol=1e-12)
    return port[1, 0] / port[0, 0]


def test_softness_0_is_a_rigid_duct():
    """kirchhoff.cylinder of the same area (Zwikker and Kosten 1949), round because no perimeter is given."""
    rigid = Reed(length_mm=31.0, area_mm2=11.0, softness=0.0)
    radius = np.sqrt(11e-6 / np.pi)
    exact = np.array(kirchhoff.cylinder(radius, 31e-3, F, REFERENCE)).reshape(2, 2, -1)
    assert apart(head(rigid, F, DRY), exact) < 1e-11
    assert (
        apart(
            shut(rigid, F, LOSSLESS),
            1j * 11e-6 / (DRY.density * DRY.sound_speed) * np.tan(2 * np.pi * F / DRY.sound_speed * 31e-3),
        )
        < 1e-11
    )


def test_low_frequency_compliance_is_the_volume_times_one_plus_softness():
    """C = V (1 + softness)/(rho c^2)."""
    f = np.array([2.0])
    volume = shut(NOTES, f, LOSSLESS) / (2j * np.pi * f) * DRY.density * DRY.sound_speed**2
    assert volume[0].real * 1e9 == pytest.approx(31.0 * 11.0 * 1.6, rel=1e-5)
    assert abs(volume[0].imag / volume[0].real) < 1e-4


def test_admittance_is_the_formula_of_the_notes():
    """Closed line of yielding walls: Y = j (S/(rho c_e)) tan(omega l/c_e), c_e = c/sqrt(1 + s), without wall losses."""
    slow = DRY.sound_speed / np.sqrt(1 + NOTES.softness / (1 - (F / 1400.0) ** 2 + 1j * F / (NOTES.quality * 1400.0)))
    exact = 1j * 11e-6 / (DRY.density * slow) * np.tan(2 * np.pi * F * 31e-3 / slow)
    assert apart(shut(NOTES, F, LOSSLESS), exact) < 1e-10


def test_wall_compliance_is_a_damped_spring_and_mass():
    """Softness well below the resonance, -j Q softness on it, negative and falling with 1/f^2 above."""
    assert complex(wall_compliance(NOTES, 1e-3)) == pytest.approx(0.6, rel=1e-6)
    assert complex(wall_compliance(NOTES, 1400.0)) == pytest.approx(-0.6j * NOTES.quality, rel=1e-12)
    assert complex(wall_compliance(NOTES, 1.4e6)) == pytest.approx(-0.6e-6, rel=1e-4)
    assert np.all(wall_compliance(NOTES, np.geomspace(1, 1e5, 200)).imag < 0)  # it takes power at every frequency


def test_quarter_wave_of_the_notes():
    """Near 1280 Hz (worked by hand from the formula); a zero of the undamped head's cosine there."""
    assert quarter_wave(NOTES, DRY) == pytest.approx(1280.0, abs=2.0)
    root = brentq(lambda f: head(UNDAMPED, np.array([f]), LOSSLESS)[0, 0, 0].real, 1200.0, 1320.0)
    assert quarter_wave(UNDAMPED, LOSSLESS) == pytest.approx(root, rel=1e-5)
    rigid = Reed(length_mm=31.0, area_mm2=11.0, softness=0.0, resonance_hz=20000.0)
    assert quarter_wave(rigid, DRY) == pytest.approx(DRY.sound_speed / 0.124, rel=1e-9)


def test_stop_band_of_the_notes():
    """Up to fr sqrt(1 + softness), about 1770 Hz.  Inside sound decays along the head, outside it travels."""
    low, high = stop_band(NOTES)
    assert low == 1400.0
    assert high == pytest.approx(1770.0, abs=2.0)

    def cosine(f):
        return head(UNDAMPED, np.array([f]), LOSSLESS)[0, 0, 0].real

    assert min(cosine(f) for f in np.linspace(low + 20, high - 5, 30)) > 1
    assert max(abs(cosine(f)) for f in np.linspace(high + 5, 4000, 200)) < 1
    assert max(abs(cosine(f)) for f in np.linspace(20, quarter_wave(NOTES, DRY), 100)) < 1


def test_perimeter_only_adds_loss():
    """A flat head: same volume, more wall; the real part of the shut head's admittance rises, for low f like P/S."""
    round_, flat = (shut(Reed(31.0, 11.0, 0.0, perimeter_mm=p), np.array([400.0]), DRY)[0] for p in (None, 26.0))
    ratio = 26.0 / (2 * np.sqrt(np.pi * 11.0))
    assert flat.real / round_.real == pytest.approx(ratio, rel=0.05)
    assert flat.imag == pytest.approx(round_.imag, rel=0.04)


@pytest.mark.parametrize("gas", [LOSSLESS, DRY], ids=["lossless", "lossy"])
def test_head_is_passive(gas):
    assert np.all(shut(NOTES, np.geomspace(20, 6000, 300), gas).real > 0)


def test_any_shape_of_frequency():
    here = head(NOTES, np.array([300.0]), DRY)[:, :, 0]
    block = head(NOTES, np.full((3, 4), 300.0), DRY)
    assert block.shape == (2, 2, 3, 4)
    np.testing.assert_allclose(block[:, :, 1, 2], here, rtol=1e-14)
