"""The floors of the house: who may import whom, and how big a room may grow."""

import ast
from pathlib import Path

import pytest

import acoustics

HOUSE = Path(acoustics.__file__).parent
FLOORS = ["ground", "pipes", "physics", "tuning", "bench", "shop", "view"]
GROUND = {"errors", "units", "validity"}
# The shop writes PDF pages and measures lettering with the plotting library, in these rooms only.
PRINTING = {"acoustics.shop.pdf", "acoustics.shop.lettering"}
DRAWING = {"matplotlib", "ipywidgets", "IPython", "notebook", "jupyterlab"}
TALLEST = 300


def name_of(file: Path) -> str:
    """acoustics.physics.air of the file."""
    parts = file.relative_to(HOUSE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


ROOMS = {name_of(file): file for file in sorted(HOUSE.rglob("*.py"))}
INNER = sorted(name for name in ROOMS if name != "acoustics")


def floor(room: str) -> int:
    part = room.split(".")[1]
    return FLOORS.index("ground" if part in GROUND else part)


def imports(room: str) -> list[tuple[str, str]]:
    """(module, name) of every import of a room, wherever it stands in it, relative ones resolved."""
    file, found = ROOMS[room], []
    package = room.split(".") if file.name == "__init__.py" else room.split(".")[:-1]
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(alias.name, "") for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            found += [(module, alias.name) for alias in node.names]
    return found


def rooms_used(room: str) -> set[str]:
    """The rooms of the house that a room imports from."""
    used = set()
    for module, name in imports(room):
        if module.split(".")[0] == "acoustics":
            used.add(f"{module}.{name}" if f"{module}.{name}" in ROOMS else module)
    return used


def test_the_house_is_read():
    assert {"acoustics.errors", "acoustics.physics.air", "acoustics.tuning.chart", "acoustics.pipes.chanter"} <= set(
        ROOMS
    )
    assert "acoustics.physics.twoport" in rooms_used("acoustics.physics.network")
    assert {floor(room) for room in INNER} == set(range(len(FLOORS)))


@pytest.mark.parametrize("room", INNER)
def test_a_room_leans_only_on_its_own_floor_and_those_below(room):
    for used in rooms_used(room):
        assert used != "acoustics", f"{room} imports from the front door"
        assert used in ROOMS, f"{room} imports {used}, which is not there"
        assert floor(used) <= floor(room), f"{room} imports {used}, from a floor above"


@pytest.mark.parametrize("room", [room for room in INNER if floor(room) < FLOORS.index("view")])
def test_only_the_view_draws(room):
    drawn = {module.split(".")[0] for module, _ in imports(room)} & DRAWING
    allowed = {"matplotlib"} if room in PRINTING else set()
    assert drawn <= allowed, f"{room} imports {drawn}"


def test_the_rooms_that_print_are_there():
    assert set(ROOMS) >= PRINTING


@pytest.mark.parametrize("room", sorted(ROOMS))
def test_no_star(room):
    assert all(name != "*" for _, name in imports(room))


@pytest.mark.parametrize("room", sorted(ROOMS))
def test_no_room_is_too_tall(room):
    lines = len(ROOMS[room].read_text(encoding="utf-8").splitlines())
    assert lines <= TALLEST, f"{room} has {lines} lines"


def test_no_cycles():
    """Depth first through the imports; a room met again on its own way down is a cycle."""
    done: set[str] = set()

    def walk(room: str, way: tuple[str, ...]):
        assert room not in way, " -> ".join([*way[way.index(room) :], room])
        if room in done:
            return
        for used in sorted(rooms_used(room)):
            walk(used, (*way, room))
        done.add(room)

    for room in sorted(ROOMS):
        walk(room, ())
    assert done == set(ROOMS)
