"""What is said beside the tables and fields of a design file."""

from __future__ import annotations

# Said beside a table or a field (a field of that name in any table) when a file is written.
COMMENTS = {
    "key": "sounding name of the lowest note",
    "reed": "head of the reed, from the eye of the staple to the lips",
    "staple": "copper cone; foot and tip are inside diameters before the eye is pressed",
    "bore": "inside: [distance from the top, diameter]; the same distance twice is a step",
    "body": "outside: [distance from the top, diameter]",
    "rush": "wire in the bore; distances from the top",
    "area_mm2": "mean cross-section of the air inside",
    "softness": "how far the blades yield, against the air between them; 0 is rigid",
    "resonance_hz": "resonance of the blades",
    "insertion_mm": "how far the staple's foot sits below the top",
    "eye_opening_mm": "short way across the pressed eye",
    "flattened_mm": "length over which the pressing fades to round",
    "position_mm": "from the top to the middle of the hole",
    "tilt_deg": "outer end towards the foot is positive",
    "around_deg": "0 front, 90 right, -90 left, 180 back",
    "lift_mm": "height of the open pad",
    "duct": "[length, diameter] of each further stretch, from the wall out to the pad",
}

# The same in a drone's file.
DRONE_COMMENTS = {
    "key": "sounding name of the chanter's lowest note",
    "octaves_below": "below the chanter's lowest note: tenor 0, baritone 1, bass 2",
    "wall_mm": "at the open end or the outlet",
    "reed": "the tongue's tube",
    "area_mm2": "inside the tube",
    "softness": "how far the tongue yields, against the air in the tube; 0 is rigid",
    "resonance_hz": "resonance of the tongue",
    "resonator": "closed chamber at the end with an outlet in its side",
    "outlet_at_mm": "from where the chamber begins to the middle of the outlet",
    "material": "wood or brass",
    "gap_mm": "how far the slide is drawn now",
    "longest_mm": "how far it may be drawn",
    "radius_mm": "of the centre line",
    "spacing_mm": "between the axes of the two bores",
}

# The same in a regulator's file.
REGULATOR_COMMENTS = COMMENTS | {
    "key": "sounding name of the chanter's lowest note",
    "octaves_below": "of its notes below the chanter's first octave: 0 or 1",
    "rush": "pin of the stopper, reaching up the bore; distances from the top",
}
