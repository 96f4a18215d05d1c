"""Random pipes for hypothesis: anything the dataclasses accept."""

import math

from hypothesis import strategies as st

from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.chanter import KEYS, Chanter
from acoustics.pipes.drone import Drone
from acoustics.pipes.holes import FACES, Key, ToneHole
from acoustics.pipes.reed import Reed
from acoustics.pipes.rush import Rush
from acoustics.pipes.staple import Staple
from acoustics.pipes.stretches import MATERIALS, Bend, Bridge, Resonator, Slide, Straight

WIDEST_BORE_MM = 20.0


def floats(low: float, high: float):
    """Any float from low to high."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


def names(longest: int = 40):
    """Any printable text, quotation marks and accents included."""
    return st.text(min_size=1, max_size=longest).filter(lambda text: text.isprintable() and text.strip())


def apart(distances):
    """Sorted, without those that lie closer than a micrometre to the one before, the longest kept."""
    kept = []
    for distance in sorted(distances, reverse=True):
        if not kept or kept[-1] - distance > 1e-3:
            kept.append(distance)
    return [0.0, *(d for d in kept[::-1] if d > 1e-3)]


@st.composite
def bores(draw):
    """Any bore: uneven stations, some of them steps."""
    inner = draw(st.lists(floats(0.0, 1999.0), max_size=12, unique=True))
    distances = apart([0.0, *inner, draw(floats(1.0, 2000.0))])
    repeated = draw(st.lists(st.sampled_from(distances), max_size=3, unique=True))
    distances = sorted(distances + repeated)
    return Bore([(at, draw(floats(0.5, 120.0))) for at in distances])


@st.composite
def staples(draw):
    """Any staple, round or pressed."""
    length, tip = draw(floats(2.0, 200.0)), draw(floats(0.5, 30.0))
    pressed = {}
    if draw(st.booleans()):
        pressed = {"eye_opening_mm": draw(floats(0.2, tip)), "flattened_mm": draw(floats(0.5, length))}
    return Staple(length, draw(floats(1.0, 30.0)), tip, draw(floats(0.0, min(40.0, length))), **pressed)


@st.composite
def _reeds(draw):
    """Any reed; a perimeter goes at least round the circle of its area."""
    area = draw(floats(0.5, 300.0))
    perimeter = draw(st.none() | floats(max(3.0, 2.0 * math.sqrt(math.pi * area)), 200.0))
    softness, resonance, quality = draw(floats(0.0, 10.0)), draw(floats(100.0, 20000.0)), draw(floats(1.0, 1000.0))
    return Reed(draw(floats(1.0, 200.0)), area, softness, resonance, quality, perimeter)


reeds = _reeds()


@st.composite
def _holes(draw, name, start, end, widest):
    """A hole of any kind that stays between start and end."""
    size = draw(floats(0.5, min(widest, 0.8 * (end - start))))
    at = draw(floats(start + 0.55 * size, end - 0.55 * size))
    depth, face = draw(st.none() | floats(3.0, 100.0)), draw(st.sampled_from(FACES))
    low, high = {"front": (0.0, 60.0), "back": (120.0, 180.0), "side": (30.0, 150.0)}[face]
    around = draw(st.none() | st.builds(lambda a, way: way * a, floats(low, high), st.sampled_from((1.0, -1.0))))
    if draw(st.booleans()):
        duct = draw(st.lists(st.tuples(floats(0.1, 100.0), floats(0.5, 40.0)), max_size=3))
        pad = draw(floats(40.5, 60.0))
        return Key(name, at, size, depth, draw(floats(0.1, 30.0)), pad, tuple(duct), face, around)
    undercut = {}
    if draw(st.booleans()):
        undercut = {
            "undercut_diameter_mm": draw(floats(size, widest)),
            "undercut_depth_mm": draw(floats(0.1, 2.5)),
        }
    diameter = (draw(floats(0.5, size)), size) if draw(st.booleans()) else size
    room = max(min(at - start, end - at) - 0.5 * size, 0.0)  # a tilted hole meets the bore inside its stretch too
    most = min(45.0, math.degrees(math.atan(room / (0.5 * WIDEST_BORE_MM))))
    return ToneHole(
        name, at, diameter, depth, tilt_deg=draw(floats(-most, most)), face=face, around_deg=around, **undercut
    )


@st.composite
def chanters(draw):
    """Any chanter with up to eight holes, each in its own stretch of wood."""
    length = draw(floats(200.0, 600.0))
    inner = apart([0.0, *draw(st.lists(floats(0.0, 199.0), max_size=6)), length])
    bore = Bore([(at, draw(floats(4.0, WIDEST_BORE_MM))) for at in inner])
    staple = draw(staples())
    narrowest = min(diameter for _, diameter in bore.stations_mm)
    called = draw(st.lists(names(), max_size=8, unique=True))
    start, width = 45.0, (length - 46.0) / max(len(called), 1)
    holes = [draw(_holes(name, start + i * width, start + (i + 1) * width, narrowest)) for i, name in enumerate(called)]
    rush = None
    if draw(st.booleans()):
        top = draw(floats(40.0, length - 1.0))
        rush = Rush(draw(floats(0.1, 0.79 * narrowest)), top, draw(floats(top + 0.5, length)))
    outer = draw(st.lists(floats(0.1, length - 1.0), max_size=4, unique=True))
    body = Body([(at, draw(floats(26.0, 40.0))) for at in apart([0.0, *outer, length])])
    return Chanter(draw(names(80)), draw(reeds), staple, bore, holes, body, rush, draw(st.sampled_from(KEYS)))


@st.composite
def drones(draw):
    """Any drone: straight stretches with turns between them, one of these the slide, perhaps a chamber."""
    bore = draw(floats(2.0, 15.0))
    turns = draw(st.lists(st.sampled_from(("bend", "bridge")), max_size=3))
    turns.insert(draw(st.integers(0, len(turns))), "slide")
    lengths = st.builds(Straight, floats(0.5, 150.0), st.just(bore), st.sampled_from(MATERIALS))
    stretches = [draw(lengths)]
    for turn in turns:
        if turn == "slide":
            longest = draw(floats(1.0, 100.0))
            stretches.append(Slide(draw(floats(0.0, longest)), draw(floats(bore, 30.0)), longest))
        elif turn == "bend":
            stretches.append(Bend(draw(floats(0.56 * bore, 30.0)), bore, draw(floats(5.0, 360.0))))
        else:
            stretches.append(Bridge(draw(floats(1.02 * bore, 50.0)), bore))
        stretches.append(draw(lengths))
    chamber = None
    if draw(st.booleans()):
        outlet, length = draw(floats(1.0, 14.0)), draw(floats(30.0, 100.0))
        at = draw(floats(outlet / 2.0, length - outlet / 2.0))
        chamber = Resonator(length, draw(floats(bore + 0.1 + outlet, 60.0)), outlet, at, draw(floats(0.3, 30.0)))
    below, wall = draw(st.integers(0, 3)), draw(floats(0.3, 60.0))
    return Drone(draw(names(80)), draw(reeds), stretches, below, chamber, wall, draw(st.sampled_from(KEYS)))
