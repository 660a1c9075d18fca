"""A table in plain text, for the terminal: heads broken over lines, figures to the right."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

HEAD = 10  # columns a head may take before it is broken


def plain_table(
    heads: Sequence[str], lines: Sequence[Sequence[str]], figures: Sequence[int], indent: str = "  "
) -> str:
    """Every line begins with `indent`; the last column runs on as it is.

    >>> print(plain_table(("String", "Current A"), [("S1", "25.0"), ("S2", "7.5")], (1,)))
      String  Current A
      S1           25.0
      S2            7.5
    """
    broken = [textwrap.wrap(head, HEAD) for head in heads]
    tall = max(len(words) for words in broken)
    tops = [[""] * (tall - len(words)) + words for words in broken]
    rows = [*zip(*tops, strict=True), *lines]
    wide = [max(len(row[i]) for row in rows) for i in range(len(heads))]
    text = [
        indent + "  ".join(f"{cell:>{wide[i]}}" if i in figures else f"{cell:<{wide[i]}}" for i, cell in enumerate(row))
        for row in rows
    ]
    return "\n".join(line.rstrip() for line in text)
