"""A rule, its value, its limit, its source: what a plan says about every limit it was held to."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    rule: str  # "voltage drop", "ampacity", "fuse rating", ...
    item: str  # what it speaks of: "S3 positive", "bank"
    status: str  # "pass", "fail", "unknown" (data missing: never a pass), "note"
    message: str  # one sentence for a person, with the figures
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    source: str = ""  # published source, "job file", "common practice, no published source"
    mend: str = ""  # what would make it pass
    at_least: bool = False  # the limit is the least that is allowed, not the most

    @property
    def margin(self) -> float | None:
        """What is left of the limit, as a share of it; negative when it is passed. None if it has no figures."""
        if self.value is None or self.limit is None or self.limit == 0:
            return None
        left = self.value - self.limit if self.at_least else self.limit - self.value
        return left / self.limit


def how_many(count: int, what: str) -> str:
    """A count and what is counted, one of it or several.

    >>> how_many(1, "pair"), how_many(2, "pair"), how_many(0, "battery")
    ('1 pair', '2 pairs', '0 batteries')
    """
    if count == 1:
        return f"1 {what}"
    return f"{count} {what[:-1]}ies" if what.endswith("y") else f"{count} {what}s"
