"""The head of the reed: a short duct whose walls yield, between the staple's eye and the lips."""

from __future__ import annotations

import numpy as np

from ..pipes.reed import Reed
from ..units import MM
from .air import Gas
from .ducts import per_length, uniform


def wall_compliance(reed: Reed, frequency):
    """Compliance of the blades over that of the air between them, s(f), complex array.

    s = softness / (1 - (f/fr)^2 + j f/(Q fr)): a damped spring and mass all along the head.

    References
    ----------
    Own model; that a double reed must be more than one air volume is said by J. Backus, J. Acoust.
    Soc. Am. 56, 1266 (1974, page from memory), and by C. J. Nederveen, *Acoustical Aspects of
    Woodwind Instruments*, 1969.
    """
    ratio = np.asarray(frequency, float) / reed.resonance_hz
    return reed.softness / (1.0 - ratio**2 + 1j * ratio / reed.quality)


def line(reed: Reed, frequency, gas: Gas):
    """What the head is per length: series impedance, shunt admittance of the air, and that of the yielding blades.

    Returns
    -------
    three complex arrays, shape of `frequency` [Pa s m-4], [m2 Pa-1 s-1] twice
    """
    frequency = np.asarray(frequency, float)
    area = reed.area_mm2 * MM**2
    perimeter = 2.0 * np.sqrt(np.pi * area) if reed.perimeter_mm is None else reed.perimeter_mm * MM
    omega = 2.0 * np.pi * frequency
    yielding = 1j * omega * area / (gas.density * gas.sound_speed**2) * wall_compliance(reed, frequency)
    return *per_length(area, perimeter, omega, gas), yielding


def head(reed: Reed, frequency, gas: Gas):
    """Two-port from the lips to the eye, complex array (2, 2, *shape) for frequency of at least one axis."""
    impedance, admittance, yielding = line(reed, frequency, gas)
    return uniform(reed.length_mm * MM, impedance, admittance + yielding)


def stop_band(reed: Reed) -> tuple[float, float]:
    """The band in which the walls' mass makes the head stiff to sound, lowest and highest [Hz].

    From the blades' resonance up to where the wall's negative compliance no longer outweighs the
    air's: fr to fr sqrt(1 + softness), without damping.
    """
    return reed.resonance_hz, reed.resonance_hz * float(np.sqrt(1.0 + reed.softness))


def quarter_wave(reed: Reed, gas: Gas) -> float:
    """Frequency at which the head is a quarter of a wave long, damping neglected [Hz].

    The lowest root of (omega l / c) sqrt(1 + s(f)) = pi/2, a quadratic equation in f^2.
    """
    rigid2 = (gas.sound_speed / (4.0 * reed.length_mm * MM)) ** 2
    blade2 = reed.resonance_hz**2
    middle = blade2 * (1.0 + reed.softness) + rigid2
    return float(np.sqrt((middle - np.sqrt(middle**2 - 4.0 * blade2 * rigid2)) / 2.0))
