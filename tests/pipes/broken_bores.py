"""Broken bore measurements, each with what must be said of it."""

HEAD = "# form: bore measurement\n# version: 1\n# unit: mm\n# length: 356\n"
PLAIN = HEAD + "distance,diameter\n0,5.9\n30,5.2\n356,12.9\n"
OVAL = HEAD + "distance,narrow,wide\n0,5.9,6\n356,12.5,12.9\n"
GAUGE = HEAD + "gauge,depth,from,probe\n5.4,20,top,round\n5.2,330,foot,round\n12,30,foot,round\n"
# what is broken: (text of the file, place and start of the sentence, what must be said besides)
L6 = "b.csv, line 6, column"


def table(old, new, text=PLAIN):
    """A bore file with one place changed."""
    assert text.count(old) >= 1, old
    return text.replace(old, new, 1)


BORES = {
    # -- header
    "no form": (
        table("# form: bore measurement\n", ""),
        "b.csv, form: the form is not declared",
        "# form: bore measurement",
    ),
    "wrong form": (table("bore measurement", "chanter"), "b.csv, line 1, form: 'chanter' is not", "bore measurement"),
    "no version": (table("# version: 1\n", ""), "b.csv, version: the version is not declared", "# version: 1"),
    "wrong version": (table("version: 1", "version: 2"), "b.csv, line 2, version: '2' is not a known version", "1 is"),
    "no unit": (table("# unit: mm\n", ""), "b.csv, unit: the unit is not declared", "# unit: mm"),
    "unknown unit": (table("unit: mm", "unit: cm"), "b.csv, line 3, unit: 'cm' is not a known unit", "mm or inch"),
    "empty unit": (table("unit: mm", "unit:"), "b.csv, line 3, unit: '' is not a known unit", "mm or inch"),
    "unit misspelt": (table("unit: mm", "units: mm"), "b.csv, line 3: there is no line 'units'", "did you mean unit?"),
    "unit twice": (table("# unit: mm\n", "# unit: mm\n# unit: inch\n"), "b.csv, line 4, unit: the unit stands", "once"),
    "unit below": (PLAIN + "# unit: inch\n", "b.csv, line 9, unit: the unit stands on line 3 already", "once"),
    "unit late": (
        table("# length: 356\n", "") + "# length: 356\n",
        "b.csv, length: the length is not",
        "# length: 356",
    ),
    "no length": (table("# length: 356\n", ""), "b.csv, length: the length is not declared", "# length: 356"),
    "length a word": (
        table("length: 356", "length: long"),
        "b.csv, line 4, length: 'long' is not a number",
        "5.2 in mm",
    ),
    "length with unit": (table("length: 356", "length: 356 mm"), "b.csv, line 4, length: '356 mm'", "without the unit"),
    "length comma": (table("length: 356", "length: 356,5"), "b.csv, line 4, length: a decimal comma", "a point"),
    "length zero": (table("length: 356", "length: 0"), "b.csv, line 4, length: 0 is out of bounds", "1 to 2000 mm"),
    "length too long": (table("length: 356", "length: 2001"), "b.csv, line 4, length: 2001 is out", "1 to 2000 mm"),
    "length of a foot in inches": (
        table("unit: mm", "unit: inch"),
        "b.csv, line 4, length: 356 is out",
        "78.7402 inch",
    ),
    "only a header": (HEAD, "b.csv, columns: there is no table", "distance,diameter"),
    # -- columns
    "unknown columns": (
        table("distance,diameter", "x,y"),
        "b.csv, line 5: 'x,y' are no known columns",
        "gauge,depth,from",
    ),
    "columns swapped": (
        table("distance,diameter", "diameter,distance"),
        "b.csv, line 5: 'diameter,dist",
        "distance,diam",
    ),
    "no column names": (table("distance,diameter\n", ""), "b.csv, line 5: '0,5.9' are no known", "distance,diameter"),
    "names twice": (table("0,5.9", "distance,diameter\n0,5.9"), f"{L6} distance: 'distance' is not a", "number"),
    "semicolon": (table("0,5.9", "0;5.9"), "b.csv, line 6: semicolons stand", "commas"),
    "semicolon names": (PLAIN.replace("0,", "0;").replace("e,d", "e;d"), "b.csv, line 5: semicolons stand", "commas"),
    "tabs": (table("0,5.9", "0\t5.9"), "b.csv, line 6: tabs stand between the columns", "commas"),
    "too few": (table("0,5.9", "0"), "b.csv, line 6: the number of values is 1", "distance,diameter are needed"),
    "too many": (table("0,5.9", "0,5.9,6"), "b.csv, line 6: the number of values is 3", "a point for decimals"),
    "decimal comma": (table("0,5.9", "0,5,9"), "b.csv, line 6: the number of values is 3", "a point for decimals"),
    "quoted comma": (table("0,5.9", '0,"5,9"'), f"{L6} diameter: a decimal comma stands in '5,9'", "a point"),
    "quotation mark": (table("0,5.9", '0,"5.9'), "b.csv, line 6: the quotation marks do not match", "plain numbers"),
    "quotes inside": (table("0,5.9", '0,"5"9'), "b.csv, line 6: the quotation marks do not match", "plain numbers"),
    # -- numbers
    "a word": (table("5.9", "wide"), f"{L6} diameter: 'wide' is not a number", "5.2 in mm"),
    "a gap": (table("5.9", ""), f"{L6} diameter: nothing stands there", "0.5 to 120 mm"),
    "with the unit": (table("5.9", "5.9 mm"), f"{L6} diameter: '5.9 mm' is not a number", "without the unit"),
    "nan": (table("5.9", "nan"), f"{L6} diameter: 'nan' is not a number", "5.2 in mm"),
    "inf": (table("5.9", "inf"), f"{L6} diameter: 'inf' is not a number", "5.2 in mm"),
    "overflow": (table("5.9", "1e999"), f"{L6} diameter: inf is not a finite number", "0.5 to 120 mm"),
    "underscore": (table("5.9", "5_9"), f"{L6} diameter: '5_9' is not a number", "5.2 in mm"),
    "other digits": (table("5.9", "\u0665"), f"{L6} diameter: '\u0665' is not a number", "5.2 in mm"),
    "fraction": (table("5.9", "15/64"), f"{L6} diameter: '15/64' is not a number", "5.2 in mm"),
    "negative": (table("0,5.9", "-1,5.9"), f"{L6} distance: -1 is out of bounds", "0 to 2000 mm"),
    "diameter zero": (table("5.9", "0"), f"{L6} diameter: 0 is out of bounds", "0.5 to 120 mm"),
    "diameter in inches": (
        table("# unit: mm\n# length: 356", "# unit: inch\n# length: 14"),
        f"{L6} diameter: 5.9",
        "inch",
    ),
    # -- distances
    "unsorted": (
        table("30,5.2", "30,5.2\n29,5.3"),
        "b.csv, line 8, column distance: the distance 29 comes",
        "backwards",
    ),
    "three times": (table("30,5.2", "30,5\n30,6\n30,7"), "b.csv, line 9, column distance: the distance 30", "once"),
    "past the end": (table("356,12.9", "357,13"), "b.csv, line 8, column distance: the distance 357", "to the length"),
    "one row": (
        HEAD + "distance,diameter\n0,5\n",
        "b.csv, columns: the number of rows in the table is 1",
        "at least two",
    ),
    "no rows": (HEAD + "distance,diameter\n", "b.csv, columns: the number of rows in the table is 0", "at least two"),
    "narrow is wide": (table("5.9,6", "6,5.9", OVAL), f"{L6} wide: it is less than the narrow way", "at least as much"),
    "narrow missing": (table("0,5.9,6", "0,,6", OVAL), f"{L6} narrow: nothing stands there", "0.5 to 120 mm"),
    # -- gauges
    "no gauges": (HEAD + "gauge,depth,from\n", "b.csv, columns: no row stands in the table", "at least one"),
    "unknown end": (table("top", "middle", GAUGE), f"{L6} from: 'middle' is not known", "top or foot"),
    "unknown probe": (table("round", "square", GAUGE), f"{L6} probe: 'square' is not known", "round or oval"),
    "right through": (table("20,top", "356,top", GAUGE), f"{L6} depth: a gauge at 356 has gone through", "stop inside"),
    "gauge negative": (table("5.4", "-5.4", GAUGE), f"{L6} gauge: -5.4 is out of bounds", "0.5 to 120 mm"),
    "depth a word": (table("20,top", "deep,top", GAUGE), f"{L6} depth: 'deep' is not a number", "5.2 in mm"),
    "same gauge twice": (
        GAUGE + "12,31,foot,round\n",
        "b.csv, line 9, column gauge: the gauge 12 from",
        "once for each",
    ),
    "smaller not so deep": (
        GAUGE + "11,20,foot,round\n",
        "b.csv, line 9, column depth: the gauge 11 stops at 20",
        "farther",
    ),
    "bigger deeper": (GAUGE + "13,40,foot,round\n", "b.csv, line 8, column depth: the gauge 12 stops at 30", "farther"),
    "two at the mouth": (GAUGE + "14,0,foot,round\n13,0,foot,round\n", "b.csv, line 10, column depth: the", "smallest"),
    "ends cross": (
        table("330,foot", "340,foot", GAUGE),
        "b.csv, line 7, column depth: the gauge 5.2 from the foot",
        "above",
    ),
    "ends meet at two sizes": (table("330,foot", "336,foot", GAUGE), "b.csv, line 7, column depth: the gauge", "above"),
    "oval less than round": (
        GAUGE + "6,30,foot,oval\n5.3,300,foot,oval\n",
        "b.csv, line 10, column gauge: the oval probe finds 5.30 mm where the round probe finds 5.88 mm",
        "less than the narrowest",
    ),
    "probes apart": (GAUGE + "13,10,foot,oval\n", "b.csv, column probe: the round and the oval probe", "same stretch"),
}
