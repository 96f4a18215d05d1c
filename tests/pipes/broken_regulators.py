"""An invented regulator, and broken files of it, each with what must be said of it; for tests only."""

from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.design_file import design_text
from acoustics.pipes.holes import Key
from acoustics.pipes.reed import Reed
from acoustics.pipes.regulator import Regulator
from acoustics.pipes.rush import Rush
from acoustics.pipes.staple import Staple


def sample_regulator() -> Regulator:
    """An invented bass regulator of three keys with a pin in its stopper."""
    return Regulator(
        name="Sliabh Ban bass regulator, invented",
        reed=Reed(length_mm=44.0, area_mm2=18.0, resonance_hz=700.0),
        staple=Staple(80.0, 6.4, 4.4, 20.0, 2.2, 38.0),
        bore=Bore([(0.0, 10.0), (16.0, 8.2), (30.0, 7.0), (80.0, 7.0), (760.0, 16.7)]),
        holes=[
            Key("C", 282.5, 9.0, duct=[(3.0, 9.0)], pad_diameter_mm=14.0, face="front"),
            Key("A", 398.0, 10.5, pad_diameter_mm=15.0, lift_mm=3.5),
            Key("G", 466.0, 11.5, duct=[(2.0, 11.5), (1.0, 10.0)], pad_diameter_mm=16.0, depth_mm=8.0),
        ],
        body=Body([(0.0, 24.0), (760.0, 30.0)]),
        rush=Rush(2.0, 700.0, 760.0),
        octaves_below=1,
    )


REGULATOR = design_text(sample_regulator())


def swap(old, new):
    """REGULATOR with one place changed."""
    assert REGULATOR.count(old) >= 1, old
    return REGULATOR.replace(old, new, 1)


# what is broken: (text of the file, place and start of the sentence, what must be said besides)
REGULATORS = {
    "a finger hole": (
        swap('kind = "key"', 'kind = "finger"'),
        "m.toml, [[hole]] 1 (\"C\"), kind: 'finger' is not a kind of hole",
        'kind = "key"',
    ),
    "not a note": (swap('name = "C"', 'name = "H"'), "m.toml, [[hole]] 1 (\"H\"): 'H' is not a note", "C#"),
    "a note twice": (swap('name = "A"', 'name = "C"'), 'm.toml, [[hole]] 2 ("C"), name: [[hole]] 1', "own name"),
    "octaves two": (swap("below = 1", "below = 2"), "m.toml, octaves_below: 2 stands there", "0 or 1"),
    "octaves true": (swap("below = 1", "below = true"), "m.toml, octaves_below: True stands there", "0 or 1"),
    "octaves half": (swap("below = 1", "below = 0.5"), "m.toml, octaves_below: 0.5 stands there", "0 or 1"),
    "a stretch": (REGULATOR + "\n[[stretch]]\n", "m.toml, stretch: there is no such name here", "[[hole]]"),
    "no staple": (swap("[staple]", "[stable]"), "m.toml, stable: there is no such name", "did you mean [staple]?"),
    "pin past the stopper": (swap("foot_mm = 760.0", "foot_mm = 761.0"), "m.toml, [rush]: it lies from 700", "760 mm"),
    "key off the wood": (swap("466.0", "757.0"), 'm.toml, [[hole]] 3 ("G"): at 757 mm', "the end at 760 mm"),
    "key wider than the bore": (
        swap("diameter_mm = 9.0", "diameter_mm = 10.0"),
        'm.toml, [[hole]] 1 ("C"): 10 mm is wider than the bore',
        "as wide as the bore",
    ),
    "pad too small": (swap("= 14.0", "= 9.0"), 'm.toml, [[hole]] 1 ("C"), pad_diameter_mm: the pad of 9', "wider"),
    "key in H": (swap('key = "D"', 'key = "H"'), "m.toml, key: 'H' is not a key", "B-flat"),
}
