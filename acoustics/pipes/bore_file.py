"""Measured bores as a table (CSV): by distance, by two ways across, or by gauges.

A file starts with four lines and the names of the columns::

    # form: bore measurement
    # version: 1
    # unit: mm
    # length: 356
    distance,diameter
    0,5.9
    30,5.2

The unit is ``mm`` or ``inch`` and holds for every number in the file, the length too.  Other lines
that start with ``#`` are remarks.  Distances are from the top.  The columns are one of

``distance,diameter``
    Inside diameter; the same distance twice is a step.
``distance,narrow,wide``
    Narrowest and widest way across an oval bore.  The round bore of the same area is used.
``gauge,depth,from`` or ``gauge,depth,from,probe``
    Diameter of a gauge, and how deep it goes in before it stops, pushed ``from`` the ``top`` or the
    ``foot``.  The probe is ``round``, a disc that the narrowest way across stops, or ``oval``, a thin
    flat gauge turned to where it goes deepest, which the widest way across stops.  With both, the
    round bore of the same area is used; with one, the bore is taken as round.  The depth of a gauge
    that goes right through is the word ``through``; it tells `bench.bore_fit` how narrow the throat
    can be at most.

Where there is no reading (before the first, past the last, between the deepest gauge from the top and
the deepest from the foot) the bore is carried on: straight between readings, at the last diameter beyond
them; where only one probe has been, the other is taken in the proportion last found.  Reading such a file
warns with `UnmeasuredBore`, which says where.
"""

from __future__ import annotations

import math
import os
import warnings
from dataclasses import dataclass

from ..errors import Refusal, short
from .bore import LONGEST_MM, WIDEST_MM, Bore
from .files import label, read_as, write_text
from .gauges import ENDS, PROBES, SAME_PLACE_MM, Gauged, Reading, Stations, stations_from_gauges, unseen_by_all
from .sheet import COLUMNS, FORM, UNITS_MM, VERSION, Sheet, read_sheet

NARROWEST_MM = 0.5
THROUGH = "through"


class UnmeasuredBore(UserWarning):
    """Part of a bore has no reading; the message says where and what stands there instead."""


@dataclass(frozen=True)
class BoreMeasurement:
    """A measured bore with what lies behind it.

    Parameters
    ----------
    bore : Bore
        Round, of the same area as what was measured.
    narrow_mm, wide_mm : tuple of (distance, diameter)
        Narrowest and widest way across [mm], where there were readings; equal for a round bore.
    unmeasured_mm : tuple of (from, to)
        Stretches without any reading, where the bore is carried on [mm].
    one_way_mm : tuple of (probe, from, to)
        Stretches that the gauges of one kind, "round" or "oval", have not seen, but the others have, at least
        in part: there one way across is carried on [mm].
    """

    bore: Bore
    narrow_mm: tuple[tuple[float, float], ...]
    wide_mm: tuple[tuple[float, float], ...]
    unmeasured_mm: tuple[tuple[float, float], ...] = ()
    one_way_mm: tuple[tuple[str, float, float], ...] = ()

    @property
    def guessed_mm(self) -> tuple[tuple[float, float], ...]:
        """Stretches where at least one way across is carried on, from the top down [mm]."""
        return tuple(sorted({*self.unmeasured_mm, *(stretch[1:] for stretch in self.one_way_mm)}))


def _by_distance(sheet: Sheet) -> tuple[Stations, Stations]:
    """Narrow and wide stations [mm] of a table of distances."""
    if len(sheet.rows) < 2:
        raise Refusal(f"the number of rows in the table is {len(sheet.rows)}", "at least two are needed", "columns")
    scale, ways = UNITS_MM[sheet.unit], sheet.columns[1:]
    distances: list[float] = []
    found: list[Stations] = [[] for _ in ways]
    for line, cells in sheet.rows:
        where, cell = sheet.cell(line, cells, "distance")
        distance = sheet.value(cell, where, 0.0, LONGEST_MM)
        if distance > sheet.length:
            what = f"the distance {cell} lies beyond the length of {sheet.length:g} {sheet.unit}"
            raise Refusal(what, "distances from 0 to the length are allowed", where)
        if distances and distance < distances[-1]:
            what = f"the distance {cell} comes after {distances[-1]:g}"
            raise Refusal(what, "distances must not run backwards (the same distance twice is a step)", where)
        if distances[-2:] == [distance, distance]:
            what = f"the distance {cell} stands there three times"
            raise Refusal(what, "a distance may be repeated once, as a step", where)
        distances.append(distance)
        for way, stations in zip(ways, found, strict=True):
            where, cell = sheet.cell(line, cells, way)
            stations.append((distance * scale, sheet.value(cell, where, NARROWEST_MM, WIDEST_MM) * scale))
        if found[0][-1][1] > found[-1][-1][1]:
            raise Refusal("it is less than the narrow way across", "wide must be at least as much as narrow", where)
    return found[0], found[-1]


def _gauged(sheet: Sheet) -> Gauged:
    """Every row of a table of gauges, not yet held against each other."""
    scale, readings, through = UNITS_MM[sheet.unit], [], []
    for line, cells in sheet.rows:
        choice = {"probe": PROBES[0]}
        for column, known in (("from", ENDS), ("probe", PROBES)):
            if column in sheet.columns:
                where, cell = sheet.cell(line, cells, column)
                if cell.lower() not in known:
                    raise Refusal(f"{short(cell)} is not known", f"{' or '.join(known)} is allowed", where)
                choice[column] = cell.lower()
        where, gauge_text = sheet.cell(line, cells, "gauge")
        gauge_mm = sheet.value(gauge_text, where, NARROWEST_MM, WIDEST_MM) * scale
        where, depth_text = sheet.cell(line, cells, "depth")
        passed = depth_text.lower() == THROUGH
        depth = sheet.length if passed else sheet.value(depth_text, where, 0.0, LONGEST_MM)
        if depth >= sheet.length and not passed:
            what = f"a gauge at {depth_text} has gone through a bore of {sheet.length:g} {sheet.unit}"
            raise Refusal(what, "only gauges that stop inside may be given", where)
        if depth * scale <= SAME_PLACE_MM:
            depth = 0.0
        distance_mm = (depth if choice["from"] == "top" else sheet.length - depth) * scale
        said = (gauge_text, depth_text)
        reading = Reading(line, gauge_mm, depth * scale, choice["from"], choice["probe"], distance_mm, said)
        (through if passed else readings).append(reading)
    return Gauged(tuple(readings), tuple(through), sheet.length * scale)


def _measurement(text: str) -> BoreMeasurement:
    sheet = read_sheet(text)
    length_mm, unseen = sheet.length * UNITS_MM[sheet.unit], {}
    if "gauge" in sheet.columns:
        narrow, wide, unseen = stations_from_gauges(list(_gauged(sheet).readings), length_mm)
        unmeasured = unseen_by_all(unseen)
    else:
        narrow, wide = _by_distance(sheet)
        ends = ((0.0, narrow[0][0]), (narrow[-1][0], length_mm))
        unmeasured = [(start, end) for start, end in ends if end - start > SAME_PLACE_MM]
    stations = [(at, n if n == w else math.sqrt(n * w)) for (at, n), (_, w) in zip(narrow, wide, strict=True)]
    if stations[0][0] > 0.0:
        stations.insert(0, (0.0, stations[0][1]))
    if stations[-1][0] < length_mm:
        stations.append((length_mm, stations[-1][1]))
    one_way = [(probe, *stretch) for probe, of in unseen.items() for stretch in of if stretch not in unmeasured]
    return BoreMeasurement(Bore(stations), tuple(narrow), tuple(wide), tuple(unmeasured), tuple(one_way))


def read_bore_measurement(path: str | os.PathLike) -> BoreMeasurement:
    """A measured bore with its ways across and the stretches without a reading.

    Parameters
    ----------
    path : str or path
        A table as described at the top of this module, in mm or inches.

    Returns
    -------
    BoreMeasurement
        In mm.

    Raises
    ------
    Refusal
        With file, line and column, when anything in it cannot be used.

    Warns
    -----
    UnmeasuredBore
        Part of the bore has no reading, or none of one kind of gauge, and is carried on.
    """
    return _read(path)


def _read(path: str | os.PathLike) -> BoreMeasurement:
    measured = read_as(_measurement, path)
    if measured.guessed_mm:
        message = f"{label(path)}: {_missing(measured)}; straight lines from the nearest readings stand there."
        warnings.warn(message, UnmeasuredBore, stacklevel=3)
    return measured


def _missing(measured: BoreMeasurement) -> str:
    """Where there is no reading, and where none of one kind of gauge."""
    stretches = [("", start, end) for start, end in measured.unmeasured_mm]
    stretches += [(f" of the {probe} gauges", start, end) for probe, start, end in measured.one_way_mm]
    places: dict[str, list[str]] = {}
    for whose, start, end in stretches:
        places.setdefault(whose, []).append(f"between {round(start, 1):g} and {round(end, 1):g} mm")
    return "there is " + ", ".join(f"no reading{whose} {', '.join(there)}" for whose, there in places.items())


def read_gauges(path: str | os.PathLike) -> Gauged:
    """What the gauges said, line by line, for a fit that weighs readings which contradict each other a little.

    Parameters
    ----------
    path : str or path
        A table of gauges as described at the top of this module, in mm or inches.

    Returns
    -------
    Gauged
        In mm.

    Raises
    ------
    Refusal
        With file, line and column, when anything in it cannot be used, or it is no table of gauges.
    """
    return read_as(_only_gauges, path)


def _only_gauges(text: str) -> Gauged:
    sheet = read_sheet(text)
    if "gauge" not in sheet.columns:
        what = f"the columns are {','.join(sheet.columns)}"
        raise Refusal(what, f"a table of gauges ({','.join(COLUMNS[-1])}) is needed", "columns")
    return _gauged(sheet)


def read_bore_csv(path: str | os.PathLike) -> Bore:
    """The round bore of a measurement; see `read_bore_measurement` for what is read.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    Bore

    Raises
    ------
    Refusal
        As for `read_bore_measurement`.
    """
    return _read(path).bore


def write_bore_csv(bore: Bore, path: str | os.PathLike, overwrite: bool = False) -> None:
    """Save a bore as distances and diameters in mm; `read_bore_csv` gives back an equal one.

    Parameters
    ----------
    bore : Bore
    path : str or path
        Usually ending in ``.csv``.
    overwrite : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    Refusal
        Not a bore, or the file cannot be saved; an old file stays as it is.
    """
    if not isinstance(bore, Bore):
        raise Refusal(f"{short(bore)} is not a bore", "a Bore is needed", "bore")
    lines = [f"# form: {FORM}", f"# version: {VERSION}", "# unit: mm", f"# length: {bore.length_mm!r}"]
    lines += [",".join(COLUMNS[0]), *(f"{at!r},{diameter!r}" for at, diameter in bore.stations_mm)]
    write_text(path, "\n".join(lines) + "\n", overwrite)
