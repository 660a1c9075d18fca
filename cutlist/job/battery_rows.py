"""Rows that count their batteries: a wrong count is one fault, not one for every battery missing or too many."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cutlist.findings import how_many
from cutlist.job.faults import Mark, Page, shown

COUNTED = re.compile(r"[1-9]\d{0,3}")


@dataclass(frozen=True)
class BatteryRow:
    """A row whose batteries are named by counting: B1, B2, ..."""

    name: str
    count: int | None  # None: it could not be read, as was told
    mark: Mark  # of the count

    def number_of(self, battery: str) -> int | None:
        """The number of a battery whose name this row could have made; None for others.

        >>> BatteryRow("B", 2, Mark(1)).number_of("B3"), BatteryRow("B", 2, Mark(1)).number_of("C3")
        (3, None)
        """
        number = battery.removeprefix(self.name)
        return int(number) if battery != number and COUNTED.fullmatch(number) else None


def row_that_lacks(battery: str, rows: Sequence[BatteryRow]) -> BatteryRow | None:
    """The row that would have this battery if it counted further."""
    fitting = [row for row in rows if row.number_of(battery) is not None]
    return max(fitting, key=lambda row: len(row.name), default=None)


def tell_lacking(lacking: Mapping[BatteryRow, Sequence[str]], page: Page) -> None:
    """`lacking`: of each row the batteries that strings name and it does not have."""
    for row, names in lacking.items():
        if row.count is None:
            continue  # why, was told
        wanted = max(row.number_of(name) or 0 for name in names)
        which = ", ".join(shown(name) for name in dict.fromkeys(names))
        message = f"row {shown(row.name)} has {how_many(row.count, 'battery')}, and strings name {which} too"
        page.fault(row.mark, message, f"count: {wanted}, or take {which} out of the strings")


def told_unused(names: Sequence[str], rows: Sequence[BatteryRow], page: Page) -> set[str]:
    """Those of the batteries in no string that a row has too many, told in one fault for each row."""
    told: set[str] = set()
    for row in rows:
        numbers = sorted(n for name in names if name not in told and (n := row.number_of(name)) is not None)
        if row.count is None or len(numbers) < 2 or numbers != list(range(numbers[0], row.count + 1)):
            continue
        first, last = (shown(f"{row.name}{n}") for n in (numbers[0], row.count))
        message = f"row {shown(row.name)} has {how_many(row.count, 'battery')}, and {first} to {last} are in no string"
        fewer = f"count: {numbers[0] - 1}" if numbers[0] > 1 else "take the row out"
        page.fault(row.mark, message, f"{fewer}, or add them to strings")
        told |= {f"{row.name}{n}" for n in numbers}
    return told
