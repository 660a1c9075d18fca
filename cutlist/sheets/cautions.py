"""Which cautions stand where: on the cover, the cut sheet, the laying sheet, the terminations and the order list."""

from __future__ import annotations

from cutlist.reference.tables import rows

PLACES = ("cover", "cut sheet", "laying", "terminations", "order")


def cautions_at(place: str) -> tuple[str, ...]:
    """The cautions for one place, in the table's order; each defers to local codes and licensed practice.

    Raises ValueError if there is no such place.

    >>> cautions_at("terminations")[-1]
    'No spring clips on battery terminals.'
    """
    if place not in PLACES:
        raise ValueError(f'no cautions for "{place}"; there are {", ".join(PLACES)}')
    return tuple(row["caution"] for row in rows("cautions") if row["place"] == place)
