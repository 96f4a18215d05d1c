"""Broken design files, each with what must be said of it."""

from acoustics.pipes.design_file import design_text

from .sample import sample_chanter

DESIGN = design_text(sample_chanter())


def swap(old, new):
    """DESIGN with one place changed."""
    assert DESIGN.count(old) >= 1, old
    return DESIGN.replace(old, new, 1)


def hole(called, **fields):
    """DESIGN with a finger hole more: the thirteenth."""
    lines = {"kind": '"finger"', "name": f'"{called}"', "position_mm": "320", "diameter_mm": "5"} | fields
    return DESIGN + "\n[[hole]]\n" + "".join(f"{k} = {v}\n" for k, v in lines.items() if v is not None)


def without(table):
    """DESIGN without one table."""
    start = DESIGN.index(f"[{table}]")
    return DESIGN[:start] + DESIGN[DESIGN.index("\n[", start) + 1 :]


STATION = "    [150.0, 8.0],\n"
X = 'm.toml, [[hole]] 13 ("x")'

# what is broken: (text of the file, place and start of the sentence, what must be said besides)
DESIGNS = {
    # -- form, version, names of things
    "no form": (swap('form = "chanter"\n', ""), "m.toml, form: it is missing", 'form = "chanter"'),
    "unknown form": (swap('"chanter"', '"flute"'), "m.toml, form: 'flute' is not a known form", 'form = "chanter"'),
    "form a number": (swap('"chanter"', "5"), "m.toml, form: 5 is not a known form", "chanter"),
    "form a list": (swap('"chanter"', "[]"), "m.toml, form: [] is not a known form", "chanter"),
    "no version": (swap("version = 1\n", ""), "m.toml, version: it is missing", "version = 1"),
    "version 2": (swap("version = 1", "version = 2"), "m.toml, version: 2 is not a known version", "version = 1"),
    "version 1.0": (swap("version = 1", "version = 1.0"), "m.toml, version: 1 is not", "version = 1"),
    "version true": (swap("version = 1", "version = true"), "m.toml, version: True is not", "version = 1"),
    "version text": (swap("version = 1", 'version = "1"'), "m.toml, version: '1' is not", "version = 1"),
    "no name": (swap('name = "Sliabh Ban, invented"\n', ""), "m.toml, name: it is missing", "name = ..."),
    "empty name": (swap('"Sliabh Ban, invented"', '""'), "m.toml, name: '' is empty", "1 to 80 characters"),
    "long name": (swap("Sliabh Ban", "x" * 90), "m.toml, name: 'xxx", "1 to 80 characters"),
    "name a number": (swap('"Sliabh Ban, invented"', "7"), "m.toml, name: 7 is not text", "one line"),
    "name of two lines": (swap("Sliabh Ban", "Sliabh\\nBan"), "m.toml, name: 'Sliabh\\nBan", "one line"),
    "unknown key": (swap('key = "D"', 'key = "H"'), "m.toml, key: 'H' is not a key", "B-flat"),
    "key a list": (swap('key = "D"', 'key = ["D"]'), "m.toml, key: ['D'] is not a key", "B-flat"),
    "unknown name": (
        swap("version", 'nmae = "x"\nversion'),
        "m.toml, nmae: there is no such name",
        "did you mean name?",
    ),
    "unknown table": (swap("[staple]", "[stapel]"), "m.toml, stapel: there is no such", "did you mean [staple]?"),
    "foreign table": (DESIGN + "\n[zzz]\n", "m.toml, zzz: there is no such name here", "[staple]"),
    "holes for hole": (DESIGN.replace("[[hole]]", "[[holes]]"), "m.toml, holes: there is", "did you mean [[hole]]?"),
    "odd name": (DESIGN + '\n["a b\\n"]\n', "m.toml, 'a b\\n': there is no such name", "[reed]"),
    # -- tables missing or of the wrong kind
    "no reed": (without("reed"), "m.toml, [reed]: the table is missing", "a line [reed]"),
    "no staple": (without("staple"), "m.toml, [staple]: the table is missing", "a line [staple]"),
    "no bore": (without("bore"), "m.toml, [bore]: the table is missing", "a line [bore]"),
    "no outside": (without("body"), 'm.toml, [[hole]] 1 ("back D"): there is neither', "depth_mm"),
    "foreign number": (swap("key", "rush2 = 5\nkey"), "m.toml, rush2: there", "did you mean [rush]?"),
    "rush a number": (without("rush").replace("key", "rush = 5\nkey", 1), "m.toml, [rush]: 5 is not a table", "[rush]"),
    "bore twice bracketed": (swap("[bore]", "[[bore]]"), "m.toml, [bore]: [{", "a line [bore]"),
    "hole a number": (
        DESIGN[: DESIGN.index("[[hole]]")].replace("key", "hole = 5\nkey", 1),
        "m.toml, [[hole]]: it",
        "[[",
    ),
    "one bracket": (
        DESIGN[: DESIGN.index("[[hole]]")] + '[hole]\nkind = "key"\n',
        "m.toml, [[hole]]: it is not",
        "[[hole]]",
    ),
    "holes numbers": (
        DESIGN[: DESIGN.index("[[hole]]")].replace("key", "hole = [5]\nkey", 1),
        "m.toml, [[hole]] 1: 5 is not a table",
        "[[hole]]",
    ),
    # -- reed and staple
    "unknown field": (
        swap("foot_mm = 4.9", "foot_m = 4.9"),
        "m.toml, [staple], foot_m: there",
        "did you mean foot_mm?",
    ),
    "unknown reed field": (swap("softness", "hardnes"), "m.toml, [reed], hardnes: there is no such", "softness"),
    "no length": (swap("length_mm = 24.0\n", ""), "m.toml, [reed], length_mm: it is missing", "length_mm = ..."),
    "no foot": (swap("foot_mm = 4.9\n", ""), "m.toml, [staple], foot_mm: it is missing", "foot_mm = ..."),
    "text for a number": (swap("4.9", '"4.9"'), "m.toml, [staple], foot_mm: '4.9' is not a number", "1 to 30 mm"),
    "true for a number": (swap("4.9", "true"), "m.toml, [staple], foot_mm: True is not a number", "1 to 30 mm"),
    "date for a number": (swap("4.9", "2020-01-01"), "m.toml, [staple], foot_mm: datetime.date", "1 to 30 mm"),
    "list for a number": (swap("4.9", "[4.9]"), "m.toml, [staple], foot_mm: [4.9] is not a number", "1 to 30 mm"),
    "table for a number": (swap("4.9", "{a = 1}"), "m.toml, [staple], foot_mm: {'a': 1} is not", "1 to 30 mm"),
    "negative": (swap("4.9", "-4.9"), "m.toml, [staple], foot_mm: -4.9 is out of bounds", "1 to 30 mm"),
    "zero": (swap("24.0", "0"), "m.toml, [reed], length_mm: 0 is out of bounds", "1 to 200 mm"),
    "nan": (swap("4.9", "nan"), "m.toml, [staple], foot_mm: nan is not a finite number", "1 to 30 mm"),
    "inf": (swap("4.9", "inf"), "m.toml, [staple], foot_mm: inf is not a finite number", "1 to 30 mm"),
    "overflow": (swap("4.9", "1e999"), "m.toml, [staple], foot_mm: inf is not a finite number", "1 to 30 mm"),
    "400 digits": (swap("4.9", "9" * 400), "m.toml, [staple], foot_mm: 999", "1 to 30 mm"),
    "5000 digits": (swap("4.9", "9" * 5000), "m.toml: a number there has thousands of digits", "17 digits"),
    "too soft": (swap("softness = 0.6", "softness = 60"), "m.toml, [reed], softness: 60 is out of", "0 to 10 is"),
    "eye alone": (swap("flattened_mm = 22.0", "#"), "m.toml, [staple]: eye_opening_mm and flat", "give both"),
    "eye wider than tip": (swap("1.7", "3.9"), "m.toml, [staple]: the eye is pressed to 3.9 mm", "at most tip_mm"),
    "pressed too long": (swap("22.0 # length", "51 # length"), "m.toml, [staple]: the flattened part", "length_mm"),
    "staple sunk": (
        swap("insertion_mm = 26.0", "insertion_mm = 50.1"),
        "m.toml, [staple]: a staple of 50 mm cannot sit 50.1 mm deep",
        "at most length_mm",
    ),
    "staple past the bore": (
        swap(
            "    [30.0, 5.2],\n    [31.0, 5.2],\n    [31.0, 5.3],\n    [150.0, 8.0],\n    [250.0, 10.3],\n    [356.0,",
            "[26,",
        ),
        "m.toml, [staple]: the foot of the staple sits 26 mm down",
        "insertion_mm",
    ),
    # -- bore and body
    "no stations": (swap("stations_mm", "stations"), "m.toml, [bore], stations: there", "did you mean stations_mm?"),
    "empty bore": (without("bore") + "[bore]\n", "m.toml, [bore], stations_mm: it is missing", "stations_mm = ..."),
    "unsorted": (
        swap(STATION, "    [150.0, 8.0],\n    [149, 8],\n"),
        "m.toml, [bore], stations_mm, station 6:",
        "backwards",
    ),
    "three times": (swap(STATION, STATION * 3), "m.toml, [bore], stations_mm, station 7: the distance 150", "once"),
    "one station": (
        without("bore") + "[bore]\nstations_mm = [[0, 5]]\n",
        "m.toml, [bore], stations_mm: the number of stations is 1",
        "two",
    ),
    "not from the top": (swap("[0.0, 5.9]", "[1.0, 5.9]"), "m.toml, [bore], stations_mm: the first station", "at 0"),
    "station of three": (
        swap(STATION, "[150, 8, 8],\n"),
        "m.toml, [bore], stations_mm, station 5: [150, 8, 8]",
        "pair",
    ),
    "comma in a station": (swap("[150.0, 8.0]", "[150,0, 8,0]"), "m.toml, [bore], stations_mm, station 5", "pair"),
    "station a number": (swap(STATION, "150, 8,\n"), "m.toml, [bore], stations_mm, station 5: 150 is not a", "pair"),
    "station text": (swap("8.0]", '"8"]'), "m.toml, [bore], stations_mm, station 5, diameter: '8' is not", "120 mm"),
    "bore too narrow": (swap("8.0]", "0.1]"), "m.toml, [bore], stations_mm, station 5, diameter: 0.1", "0.5 to 120 mm"),
    "bore nan": (swap("8.0]", "nan]"), "m.toml, [bore], stations_mm, station 5, diameter: nan", "0.5 to 120 mm"),
    "bore negative": (swap("[150.0", "[-150.0"), "m.toml, [bore], stations_mm, station 5, distance: -150", "0 to 2000"),
    "bore text": (without("bore") + '[bore]\nstations_mm = "x"\n', "m.toml, [bore], stations_mm: 'x' is not", "pair"),
    "body unsorted": (swap("[330.0, 24.0]", "[130, 24]"), "m.toml, [body], outer_stations_mm, station 4", "backwards"),
    "body inf": (swap("26.0]", "inf]"), "m.toml, [body], outer_stations_mm, station 5, diameter: inf", "120 mm"),
    # -- rush
    "rush past the end": (
        swap("foot_mm = 356.0", "foot_mm = 357"),
        "m.toml, [rush]: it lies from 240 to 357",
        "end at 356",
    ),
    "rush in the staple": (swap("top_mm = 240.0", "top_mm = 9"), "m.toml, [rush]: it lies from 9 to 356", "foot at 26"),
    "rush upside down": (swap("top_mm = 240.0", "top_mm = 357"), "m.toml, [rush]: the upper end (357)", "top_mm must"),
    "rush too thick": (
        swap("diameter_mm = 1.5", "diameter_mm = 9"),
        "m.toml, [rush]: a wire of 9 mm",
        "0.8 of the bore",
    ),
    "rush misspelt": (
        swap("top_mm = 240.0", "topp_mm = 240"),
        "m.toml, [rush], topp_mm: there",
        "did you mean top_mm?",
    ),
    # -- holes
    "no kind": (hole("x", kind=None), f"{X}, kind: it is missing", 'kind = "finger" or kind = "key"'),
    "unknown kind": (hole("x", kind='"thumb"'), f"{X}, kind: 'thumb' is not a kind", 'kind = "finger"'),
    "kind a list": (hole("x", kind='["key"]'), f"{X}, kind: ['key'] is not a kind", 'kind = "finger"'),
    "no hole name": (hole("x", name=None), "m.toml, [[hole]] 13, name: it is missing", "name = ..."),
    "hole name a number": (hole("x", name="5"), "m.toml, [[hole]] 13, name: 5 is not text", "1 to 40"),
    "long hole name": (hole("x" * 41), "m.toml, [[hole]] 13, name: 'xxx", "1 to 40"),
    "same name": (hole("A"), 'm.toml, [[hole]] 13 ("A"), name: [[hole]] 6 ("A") has the same name', "its own name"),
    "hole without size": (hole("x", diameter_mm=None), f"{X}, diameter_mm: it is missing", "diameter_mm = ..."),
    "hole negative": (hole("x", diameter_mm="-5"), f"{X}, diameter_mm: -5 is out of bounds", "0.5 to 40 mm"),
    "hole of three sizes": (hole("x", diameter_mm="[5, 6, 7]"), f"{X}, diameter_mm: [5, 6, 7] is not a", "across"),
    "hole misspelt": (
        hole("x", undercut_mm="6"),
        f"{X}, undercut_mm: there is no such",
        "did you mean undercut_depth_mm?",
    ),
    "lift on a finger hole": (hole("x", lift_mm="2"), f"{X}, lift_mm: there is no such name here", "tilt_deg"),
    "hole off the end": (hole("x", position_mm="354"), f"{X}: at 354 mm with 5 mm along the bore", "end at 356 mm"),
    "hole under the staple": (hole("x", position_mm="27"), f"{X}: at 27 mm", "staple's foot at 26 and"),
    "wider than the bore": (
        hole("x", position_mm="45", diameter_mm="6"),
        f"{X}: 6 mm is wider than the bore",
        "at most",
    ),
    "overlap": (hole("x", position_mm="155"), 'm.toml, [[hole]]: "A" and "x" overlap by 3.40 mm', "wood between"),
    "no wall": (swap("[330.0, 19.0]", "[330.0, 9]"), 'm.toml, [[hole]] 12 ("Eb"): the wall there is', "0.2 mm"),
    "thin depth": (hole("x", depth_mm="0.1"), f"{X}, depth_mm: 0.1 is out of bounds", "0.2 to 100 mm"),
    "undercut half": (hole("x", undercut_depth_mm="2"), f"{X}, undercut: undercut_diameter_mm and", "give both"),
    "undercut narrow": (
        hole("x", undercut_diameter_mm="4", undercut_depth_mm="2"),
        f"{X}, undercut_diameter_mm: the undercut of 4 mm is narrower",
        "wider than its hole",
    ),
    "undercut deep": (
        hole("x", undercut_diameter_mm="6", undercut_depth_mm="50"),
        f"{X}: the undercut is 50 mm deep in a wall",
        "as deep as the wall",
    ),
    "tilt": (hole("x", tilt_deg="60"), f"{X}, tilt_deg: 60 is out of bounds", "-45 to 45 degrees"),
    "off its face": (hole("x", around_deg="90"), f"{X}, around_deg: 90 degrees are not the front", "0 to 60 degrees"),
    "face": (hole("x", face='"left"'), f"{X}, face: 'left' is not a face", "front, back, side"),
    "pad too small": (hole("x", kind='"key"', pad_diameter_mm="5"), f"{X}, pad_diameter_mm: the pad of 5 mm", "wider"),
    "duct flat": (
        hole("x", kind='"key"', duct="[1, 2]"),
        f"{X}, duct, stretch 1: 1 is not a pair",
        "(length, diameter)",
    ),
    "duct negative": (hole("x", kind='"key"', duct="[[-1, 2]]"), f"{X}, duct, stretch 1, length: -1", "0.1 to 100 mm"),
    # -- not TOML at all
    "decimal comma": (swap("foot_mm = 4.9", "foot_mm = 4,9"), "m.toml, line 17, column 12: a decimal comma", "a point"),
    "duplicate field": (swap("tip_mm = 3.8", "foot_mm = 3.8"), "m.toml, line 18, column 14: this name is", "once"),
    "duplicate table": (DESIGN + "\n[reed]\n", "m.toml, line 155, column 6: this table is started a second", "once"),
    "text without marks": (swap('"D"', "D"), "m.toml, line 5, column 7: 'key = D #", 'name = "back D"'),
    "text not closed": (swap('"D"', '"D'), "m.toml, line 5, column ", "in quotation marks"),
    "list not closed": (
        swap("    [356.0, 12.9],\n]", "    [356.0, 12.9],\n"),
        "m.toml, line 34, column 2: a comma or",
        "]",
    ),
    "comma missing": (swap("[0.0, 5.9],", "[0.0, 5.9]"), "m.toml, line 26, column 5: a comma or a closing ]", "[["),
    "bracket missing": (swap("[bore]", "[bore"), "m.toml, line 23, column 7: a closing bracket is missing", "[bore]"),
    "no equals": (swap("foot_mm = 4.9", "foot_mm 4.9"), "m.toml, line 17, column 9: there is no =", "name = value"),
    "no value": (swap("foot_mm = 4.9", "foot_mm ="), "m.toml, line 17, column 10: 'foot_mm =' cannot", "foot_mm = 4.5"),
    "with the unit": (
        swap("foot_mm = 4.9", "foot_mm = 4.9 mm"),
        "m.toml, line 17, column 15: 'foot_mm = 4.9 mm'",
        "lines",
    ),
    "a letter": ("Dear maker,\nhere is my chanter\n", "m.toml, line 1, column 6: there is no =", "name = value"),
    "unclosed at the end": ("a = [1,", "m.toml, line 1: the file ends too early", "every list needs its closing ]"),
    "endless brackets": ("a = " + "[" * 5000, "m.toml, lists: there are brackets within brackets", "two deep"),
    "endless dots": (
        "name" + ".a" * 5000 + " = 1\n" + 'form = "chanter"\nversion = 1',
        "m.toml, [reed]: the table",
        "[reed]",
    ),
    "endless dots in a field": (
        swap("foot_mm =", "foot_mm" + ".a" * 2000 + " ="),
        "m.toml, [staple], foot_mm: a dict",
        "30 mm",
    ),
    "semicolon": (swap("version = 1", "version = 1;"), "m.toml, line 3, column 12: 'version = 1;' cannot", "lines"),
}
