"""Broken set files, each with what must be said of it."""

from acoustics.pipes.set_file import set_text

SET = set_text("Sliabh Ban set", "chanter.toml", ["tenor.toml", "bass.toml"], ["regulator.toml"])


def swap(old, new):
    """SET with one place changed."""
    assert SET.count(old) >= 1, old
    return SET.replace(old, new, 1)


MANY = 'drones = ["tenor.toml"' + ', "tenor.toml"' * 8 + "]"

# what is broken: (text of the file, place and start of the sentence, what must be said besides)
SETS = {
    "no form": (swap('form = "set"\n', ""), "s.toml, form: it is missing", 'form = "set"'),
    "a design": (swap('"set"', '"chanter"'), "s.toml, form: 'chanter' is not a set", 'form = "set"'),
    "form a number": (swap('"set"', "5"), "s.toml, form: 5 is not a set", 'form = "set"'),
    "no version": (swap("version = 1\n", ""), "s.toml, version: it is missing", "version = 1"),
    "version 2": (swap("version = 1", "version = 2"), "s.toml, version: 2 is not a known version", "version = 1"),
    "version true": (swap("version = 1", "version = true"), "s.toml, version: True is not a known", "whole number"),
    "misspelt": (swap("drones", "drone"), "s.toml, drone: there is no such name here (did you mean drones?)", "names"),
    "a table": (SET + "\n[bore]\n", "s.toml, bore: there is no such name here", "allowed names: form"),
    "no name": (swap('name = "Sliabh Ban set"\n', ""), "s.toml, name: it is missing", "name = ..."),
    "empty name": (swap("Sliabh Ban set", ""), "s.toml, name: '' is empty", "1 to 80"),
    "name a list": (swap('"Sliabh Ban set"', "[1]"), "s.toml, name: [1] is not text", "1 to 80"),
    "no chanter": (swap('chanter = "chanter.toml"\n', ""), "s.toml, chanter: it is missing", "chanter = ..."),
    "chanter a number": (swap('"chanter.toml"', "1"), "s.toml, chanter: 1 is not a file name", "design file"),
    "chanter empty": (swap('"chanter.toml"', '" "'), "s.toml, chanter: ' ' is empty", "design file"),
    "chanter missing": (swap("chanter.toml", "none.toml"), "s.toml, chanter, none.toml: there is no such file", "text"),
    "chanter a drone": (swap("chanter.toml", "tenor.toml"), "s.toml, chanter: 'tenor.toml' holds a drone", "chanter"),
    "chanter a regulator": (
        swap("chanter.toml", "regulator.toml"),
        "s.toml, chanter: 'regulator.toml' holds a regulator",
        "design file of a chanter",
    ),
    "chanter broken": (
        swap("chanter.toml", "broken.toml"),
        "s.toml, chanter, broken.toml, [reed], length_mm: 'long' is not a number",
        "1 to 200 mm",
    ),
    "the set itself": (swap("chanter.toml", "s.toml"), "s.toml, chanter, s.toml, form: 'set' is not a known", "drone"),
    "absolute": (swap("chanter.toml", "/chanter.toml"), "s.toml, chanter: '/chanter.toml' leads out", "or below it"),
    "upwards": (swap("tenor.toml", "../tenor.toml"), "s.toml, drones 1: '../tenor.toml' leads out", "or below it"),
    "backslash": (swap("tenor.toml", "a\\\\tenor.toml"), "s.toml, drones 1: 'a\\\\tenor.toml' leads out", "below it"),
    "another drive": (swap("tenor.toml", "C:tenor.toml"), "s.toml, drones 1: 'C:tenor.toml' leads out", "below it"),
    "two lines": (swap("tenor.toml", "a\\nb.toml"), "s.toml, drones 1: 'a\\nb.toml' is empty, too long", "design"),
    "drones a name": (SET[: SET.index("drones")] + 'drones = "t.toml"\n', "s.toml, drones: 't.toml' is not", "lists"),
    "a drone a number": (swap('"bass.toml"', "5"), "s.toml, drones 2: 5 is not a file name", "design file"),
    "many drones": (SET[: SET.index("drones")] + MANY, "s.toml, drones: the number of pipes is 9", "at most 8"),
    "a drone twice": (
        swap("bass.toml", "tenor.toml"),
        's.toml, drones 2: two pipes are called "Sliabh Ban',
        "own",
    ),
    "a drone in C": (swap("bass.toml", "in-c.toml"), "s.toml, drones 2: ", "all pipes of a set must be in one key"),
    "regulator a drone": (
        swap('"regulator.toml"', '"bass.toml"'),
        "s.toml, regulators 1: 'bass.toml' holds a drone",
        "design file of a regulator",
    ),
    "open list": (swap("]", ""), "s.toml, line", "["),
}
