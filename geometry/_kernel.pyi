from typing import Any

def scene(
    solids: int,
    total: int,
    kind: Any,
    axes: Any,
    centre: Any,
    half: Any,
    keep_off: Any,
    first_side: Any,
    sides: Any,
    first_circle: Any,
    circles: Any,
    first_body: Any,
    first_facet: Any,
    first_box: Any,
    facets: Any,
    boxes: Any,
) -> object: ...
def distances(scene: object, points: Any, which: Any, out: Any) -> None: ...
def pairs(scene: object, points: Any, which: Any, out: Any) -> None: ...
def blocked(
    scene: object, starts: Any, ends: Any, which: Any, standoff: float, rooms_convex: bool, out: Any, any: bool
) -> None: ...
def near(low: Any, high: Any, reach: Any, points: Any, out: Any) -> None: ...
def along(table: Any, distances: Any, out: Any) -> None: ...
def least_along(
    scene: object, table: Any, from_: float, to: float, which: Any, tolerance: float, enough: float
) -> tuple[float, float, int]: ...
def rods(points: Any, rods: Any, out: Any) -> None: ...
def stamp(field: Any, x: int, y: int, z: int, places: Any, reach: int, pitch: float, radius: float) -> None: ...
def between(field: Any, x: int, y: int, z: int, places: Any, out: Any) -> None: ...
def spread(
    scene: object,
    points: Any,
    onward: Any,
    least: Any,
    dear: Any,
    active: Any,
    standoff: float,
    rooms_convex: bool,
    reached: Any,
    before: Any,
    settled: Any,
    seen: Any,
) -> tuple[float, int]: ...
def non_negative(square: Any, linear: Any, out: Any) -> bool: ...
def polish(
    scene: object,
    corners: int,
    values: Any,
    ends: Any,
    start_own: Any,
    start_lies: Any,
    finish_own: Any,
    finish_lies: Any,
    rules: Any,
    steps: int,
    wide: bool,
) -> float: ...
