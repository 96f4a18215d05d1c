"""Broken files of drones, each with what must be said of it."""

from acoustics.pipes.design_file import design_text
from acoustics.pipes.drone import Drone
from acoustics.pipes.reed import Reed
from acoustics.pipes.stretches import Bend, Bridge, Resonator, Slide, Straight


def sample_drone() -> Drone:
    """An invented bass drone with a part of every kind."""
    return Drone(
        name="Sliabh Ban bass, invented",
        reed=Reed(length_mm=100.0, area_mm2=19.0, softness=0.25, resonance_hz=350.0),
        stretches=[
            Straight(140.0, 6.4),
            Slide(26.0, 8.2, 55.0),
            Straight(230.0, 7.0, "brass"),
            Bend(16.0, 7.0, 178.0),
            Straight(360.0, 7.0, "brass"),
            Bridge(9.5, 7.0),
            Straight(180.0, 7.0),
        ],
        octaves_below=2,
        resonator=Resonator(33.0, 18.0, 7.0, 20.0),
    )


DRONE = design_text(sample_drone())


def swap(old, new):
    """DRONE with one place changed."""
    assert DRONE.count(old) >= 1, old
    return DRONE.replace(old, new, 1)


def stretch(number):
    """The text of one stretch, counted from 1."""
    return "[[stretch]]" + DRONE.split("[[stretch]]")[number]


TWO_BENDS = stretch(4) + stretch(4)
WIDE = stretch(6).replace("9.5", "11").replace("7.0", "8")

# what is broken: (text of the file, place and start of the sentence, what must be said besides)
DRONES = {
    "unknown form": (swap('"drone"', '"bombard"'), "m.toml, form: 'bombard' is not a known form", 'form = "drone"'),
    "a hole": (DRONE + "\n[[hole]]\n", "m.toml, hole: there is no such name here", "[[stretch]]"),
    "a bore": (DRONE + "\n[bore]\n", "m.toml, bore: there is no such name here", "[resonator]"),
    "no reed": (swap("[reed]", "[read]"), "m.toml, read: there is no such name here", "did you mean [reed]?"),
    "octaves half": (swap("below = 2", "below = 1.5"), "m.toml, octaves_below: 1.5 stands there", "0, 1, 2 or 3"),
    "octaves many": (swap("below = 2", "below = 4"), "m.toml, octaves_below: 4 stands there", "0, 1, 2 or 3"),
    "octaves true": (swap("below = 2", "below = true"), "m.toml, octaves_below: True stands", "0, 1, 2 or 3"),
    "key": (swap('key = "D"', 'key = "H"'), "m.toml, key: 'H' is not a key", "B-flat"),
    "wall": (swap("wall_mm = 3.0", "wall_mm = 0"), "m.toml, wall_mm: 0 is out of bounds", "0.3 to 60 mm"),
    "no stretches": (
        DRONE[: DRONE.index("[[stretch]]")],
        "m.toml, [[stretch]]: the number of slides is 0",
        "exactly one",
    ),
    "stretches for stretch": (
        DRONE.replace("[[stretch]]", "[[stretches]]"),
        "m.toml, stretches: there is",
        "did you mean [[stretch]]?",
    ),
    "one bracket": (
        DRONE[: DRONE.index("[[stretch]]")] + '[stretch]\nkind = "slide"\n',
        "m.toml, [[stretch]]: it is not a list of stretches",
        "[[stretch]]",
    ),
    "a number": (
        DRONE[: DRONE.index("[[stretch]]")].replace("key", "stretch = [5]\nkey", 1),
        "m.toml, [[stretch]] 1: 5 is not a table",
        "[[stretch]]",
    ),
    "no kind": (swap('kind = "slide"\n', ""), "m.toml, [[stretch]] 2, kind: it is missing", 'kind = "bridge"'),
    "unknown kind": (swap('"slide"', '"sledge"'), "m.toml, [[stretch]] 2, kind: 'sledge' is not a kind", '"bend"'),
    "kind a list": (swap('"slide"', "[1]"), "m.toml, [[stretch]] 2, kind: [1] is not a kind of stretch", "straight"),
    "no length": (swap("length_mm = 140.0\n", ""), "m.toml, [[stretch]] 1, length_mm: it is missing", "length_mm ="),
    "text for a length": (swap("140.0", '"140"'), "m.toml, [[stretch]] 1, length_mm: '140' is not a number", "3000"),
    "no such field": (swap("gap_mm", "gapp_mm"), "m.toml, [[stretch]] 2, gapp_mm: there is no", "did you mean gap_mm?"),
    "a named stretch": (
        swap('kind = "slide"', 'kind = "slide"\nname = "s"'),
        "m.toml, [[stretch]] 2, name: there is no",
        "gap_mm",
    ),
    "glass": (swap('"wood"', '"glass"'), "m.toml, [[stretch]] 1, material: 'glass' is not known", '"wood" or "brass"'),
    "material a list": (swap('"wood"', '["wood"]'), "m.toml, [[stretch]] 1, material: ['wood']", '"wood" or "brass"'),
    "drawn too far": (
        swap("gap_mm = 26.0", "gap_mm = 56"),
        "m.toml, [[stretch]] 2, gap_mm: 56 is out of",
        "0 to 55 mm",
    ),
    "longest nan": (swap("55.0", "nan"), "m.toml, [[stretch]] 2, longest_mm: nan is not a finite", "1 to 300 mm"),
    "gap too narrow": (swap("8.2", "6.9"), "m.toml, [[stretch]] 2: the gap is 6.9 mm wide", "at least 7 mm"),
    "bend too tight": (swap("16.0", "3.6"), "m.toml, [[stretch]] 4, radius_mm: 3.6 is out of bounds", "3.85 to 500"),
    "bend round and round": (swap("178.0", "400"), "m.toml, [[stretch]] 4, angle_deg: 400 is out", "5 to 360 degrees"),
    "bores overlap": (swap("9.5", "6.9"), "m.toml, [[stretch]] 6, spacing_mm: 6.9 is out of bounds", "7.07 to 200"),
    "bridge too wide": (swap(stretch(6), WIDE), "m.toml, [[stretch]] 6: the bridge is 8 mm wide", "its own diameter"),
    "two slides": (DRONE + "\n" + stretch(2) + stretch(1), "m.toml, [[stretch]]: the number of slides is 2", "one"),
    "no slide": (swap(stretch(2), ""), "m.toml, [[stretch]]: the number of slides is 0", "exactly one"),
    "bend on bend": (swap(stretch(4), TWO_BENDS), "m.toml, [[stretch]] 5: it follows another", "straight stretch"),
    "ends in a bend": (
        DRONE + "\n" + stretch(4),
        "m.toml, [[stretch]]: it does not begin and end straight",
        "both ends",
    ),
    "too long": (swap("140.0", "1400"), "m.toml, [[stretch]]: the whole length is", "at most 1900 mm"),
    "chamber too narrow": (
        swap("diameter_mm = 18.0", "diameter_mm = 7"),
        "m.toml, [resonator]: the chamber is 7 mm wide",
        "wider than the last stretch, 7 mm",
    ),
    "outlet off the end": (swap("at_mm = 20.0", "at_mm = 31"), "m.toml, [resonator], outlet_at_mm: 31", "3.5 to 29.5"),
    "outlet too wide": (swap("outlet_mm = 7.0", "outlet_mm = 19"), "m.toml, [resonator], outlet_mm: 19", "1 to 18 mm"),
    "chamber short": (swap("length_mm = 33.0", "length_mm = 6"), "m.toml, [resonator], length_mm: 6 is out", "7.1 to"),
    "no outlet": (swap("outlet_mm = 7.0\n", ""), "m.toml, [resonator], outlet_mm: it is missing", "outlet_mm ="),
}
