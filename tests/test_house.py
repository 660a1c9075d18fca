"""The house stands as DEVELOPERS.md draws it: imports look down only, text and files stay at the door."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

# Each room may import rooms of a lower floor, and itself.
FLOORS = {
    "geometry": 0,
    "cutlist.findings": 0,
    "cutlist.progress": 0,
    "cutlist.bank": 1,
    "cutlist.reference": 1,
    "cutlist.electrics": 2,
    "cutlist.stock": 3,
    "cutlist.layout": 4,
    "cutlist.plan_types": 5,
    "cutlist.place_types": 4,
    "cutlist.planning": 6,
    "cutlist.plan": 7,
    "cutlist.job": 8,
    "cutlist.sheets": 8,
    "cutlist.cli": 9,
}
# The door: the only rooms that may touch files, text or the screen (reference reads its own tables).
DOOR = ("cutlist.job", "cutlist.sheets", "cutlist.cli", "cutlist.reference")
CORES = "geometry.cores"  # asks the system for copies of this process, and how many it can have
FRONT = "cutlist"  # `import cutlist`: takes a path and hands it to the door


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def sources() -> list[Path]:
    return sorted([*(ROOT / "geometry").rglob("*.py"), *(ROOT / "cutlist").rglob("*.py")])


def imports_of(path: Path) -> Iterator[str]:
    package = module_name(path).split(".") if path.name == "__init__.py" else module_name(path).split(".")[:-1]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            whole = ".".join([*base, *([node.module] if node.module else [])])
            yield whole
            yield from (f"{whole}.{alias.name}" for alias in node.names)


def room_of(module: str) -> str | None:
    rooms = [room for room in FLOORS if module == room or module.startswith(room + ".")]
    return max(rooms, key=len) if rooms else None


@pytest.mark.parametrize("path", sources(), ids=module_name)
def test_imports_look_down_only(path: Path) -> None:
    here = module_name(path)
    room = room_of(here)
    if room is None:
        assert here == "cutlist", f"{here} belongs to no room of the house"
        return
    for imported in imports_of(path):
        other = room_of(imported)
        if other is None or other == room:
            continue
        assert FLOORS[other] < FLOORS[room], f"{here} imports {imported}, which is not below it"


def test_geometry_knows_nothing_of_cutlist() -> None:
    for path in (ROOT / "geometry").rglob("*.py"):
        assert not any(name.startswith("cutlist") for name in imports_of(path)), path


@pytest.mark.parametrize(
    "path",
    [p for p in sources() if not module_name(p).startswith(DOOR) and module_name(p) not in (FRONT, CORES)],
    ids=module_name,
)
def test_calculations_touch_no_file_no_screen_no_clock(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    called = {n.func.id for n in ast.walk(tree) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)}
    assert not called & {"open", "print", "input"}
    forbidden = {"pathlib", "os", "io", "sys", "random", "datetime", "subprocess", "click"}
    assert not {name.split(".")[0] for name in imports_of(path)} & forbidden


def test_only_known_things_stand_at_the_top() -> None:
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "LICENSE",
        "pyproject.toml",
        "cutlist",
        "geometry",
        "tests",
        "examples",
    }
    listed = {p.name for p in ROOT.iterdir() if not p.name.startswith(".") and not p.name.endswith(".egg-info")}
    assert listed - {"plan", "build", "dist"} <= allowed
