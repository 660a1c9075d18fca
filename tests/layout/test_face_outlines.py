"""Rows of studs on faces of any outline: by hand, against shapely, and search against every place of a grid."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from cutlist.bank.site import MountingFace
from cutlist.layout.face_outlines import cells_off, rows_off
from cutlist.layout.place_outlines import nowhere_within, row_stands

# an L: 400 wide and 300 high, without the upper right part of 200 by 200
ELL = ((0.0, 0.0), (0.4, 0.0), (0.4, 0.1), (0.2, 0.1), (0.2, 0.3), (0.0, 0.3))
STAR = ((0.05, 0.0), (0.2, 0.12), (0.38, 0.02), (0.3, 0.17), (0.4, 0.3), (0.2, 0.2), (0.0, 0.29), (0.12, 0.15))
WEDGE = ((0.15, 0.1), (0.22, 0.14), (0.17, 0.18))


def face(outline: tuple, edge_m: float = 0.0, zones: tuple = ()) -> MountingFace:
    return MountingFace("wall", (0, 0, 0), (1, 0, 0), (0, 0, 1), 0.4, 0.3, edge_m, (), outline, zones)


@pytest.mark.parametrize(
    ("middle", "half", "fits"),
    [
        # edge 20 mm: 40 mm above the lower side, 60 mm below the inner one
        ((0.2, 0.04), (0.15, 0.0), True),
        ((0.2, 0.08), (0.15, 0.0), True),  # 20 mm below the inner side
        ((0.2, 0.081), (0.15, 0.0), False),
        # an upright row 20 mm left of the inner side at 200 mm, then 19
        ((0.18, 0.15), (0.0, 0.1), True),
        ((0.181, 0.15), (0.0, 0.1), False),
        ((0.3, 0.2), (0.0, 0.0), False),  # in the part cut away
        # one end at 220 mm, where the upper part of the face has ended
        ((0.1, 0.2), (0.12, 0.0), False),
    ],
)
def test_row_on_an_ell_by_hand(middle: tuple, half: tuple, fits: bool) -> None:
    wall = face(ELL, 0.02)
    assert bool(rows_off(wall, np.array([middle]), half)[0]) is not fits
    first, last = np.array(middle) - half, np.array(middle) + half
    assert row_stands(wall, first, last) is fits


def test_a_row_may_touch_an_outline_without_an_edge_and_not_cross_it() -> None:
    """Along the inner side of the L, 100 mm up, the row touches all the way; a hair higher it is off the face."""
    wall = face(ELL)
    assert rows_off(wall, np.array([(0.2, 0.1), (0.2, 0.1001)]), (0.15, 0.0)).tolist() == [False, True]


@pytest.mark.parametrize("outline", [ELL, STAR])
@pytest.mark.parametrize("half", [(0.0, 0.0), (0.05, 0.0), (0.0, 0.05)])
def test_rows_as_shapely_sees_them(outline: tuple, half: tuple[float, float]) -> None:
    """shapely shrinks the outline and asks whether it covers the row: a method that shares nothing with ours."""
    rng = np.random.default_rng(5)
    wall = face(outline, 0.015, (WEDGE,))
    middles = rng.uniform((0, 0), (0.4, 0.3), (400, 2))
    off = rows_off(wall, middles, half)
    whole, wedge = shapely.Polygon(outline), shapely.Polygon(WEDGE)
    for middle, told in zip(middles, off, strict=True):
        row = shapely.LineString([middle - half, middle + half]) if any(half) else shapely.Point(middle)
        room = row.distance(whole.exterior) if whole.covers(row) else -1.0
        crossed = row.intersection(wedge).length > 0 if any(half) else wedge.contains(row)
        if abs(room - 0.015) > 1e-9:
            assert told == (room < 0.015 or crossed)
    assert 0 < off.sum() < len(off)


@pytest.mark.parametrize("outline", [ELL, STAR])
def test_a_cell_is_shut_only_where_no_row_of_it_is_right(outline: tuple) -> None:
    """Law: in a cell that is shut every one of many rows breaks a rule; search and check shut the same cells."""
    rng = np.random.default_rng(6)
    wall, half = face(outline, 0.01, (WEDGE,)), (0.03, 0.0)
    middles, reach_m = rng.uniform((0, 0), (0.4, 0.3), (300, 2)), rng.uniform(0.0, 0.03, 300)
    shut = cells_off(wall, middles, half, reach_m)
    assert (nowhere_within(wall, middles, half, reach_m) == shut).all()
    assert 0 < shut.sum() < len(shut)
    turns = rng.uniform(0, 2 * np.pi, (300, 40))
    away = (
        np.stack([np.cos(turns), np.sin(turns)], axis=2) * (reach_m[:, None] * rng.uniform(0, 1, (300, 40)))[..., None]
    )
    moved = (middles[:, None] + away)[shut].reshape(-1, 2)
    assert rows_off(wall, moved, half).all()
