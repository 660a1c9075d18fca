"""A fault in a file: where it is, what is wrong, what would mend it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path

from cutlist.findings import how_many

LONGEST_EXCERPT = 100
MOST_SHOWN = 200
LINE_ENDS = re.compile("\r\n|[\n\r\x85\u2028\u2029]")


@dataclass(frozen=True)
class Mark:
    """A stretch of a file. Lines and columns count from 1; line 0 is the file as a whole."""

    line: int
    column: int = 1
    width: int = 1


WHOLE_FILE = Mark(0)


@dataclass(frozen=True)
class Fault:
    file: str
    line: int
    column: int
    message: str  # a sentence that names the item
    mend: str
    excerpt: str = ""  # the line of the file
    width: int = 1  # how many characters are marked

    def text(self) -> str:
        """As it is shown to a person.

        >>> print(Fault("bank.yaml", 14, 7, "drop has no unit", "write 2 %", excerpt="drop: 2", width=1).text())
        bank.yaml, line 14: drop has no unit
           14 | drop: 2
                      ^
        mend: write 2 %
        """
        where = f"{printable(self.file)}, line {self.line}" if self.line else printable(self.file)
        rows = [f"{where}: {self.message}"]
        if self.line and self.excerpt.strip():
            rows += self._marked_excerpt()
        return "\n".join([*rows, f"mend: {self.mend}"])

    def _marked_excerpt(self) -> list[str]:
        start = self.column - 1
        # a long line is shown from a little before the mark
        first = max(0, start - 40) if len(self.excerpt) > LONGEST_EXCERPT else 0
        shown = self.excerpt[first : first + LONGEST_EXCERPT]
        before = printable(shown[: start - first])
        marked = printable(shown[start - first : start - first + max(1, self.width)])
        after = printable(shown[start - first + max(1, self.width) :])
        gutter = f"{self.line:5d} | "
        carets = " " * (len(gutter) + len(before)) + "^" * max(1, len(marked))
        return [(gutter + before + marked + after).rstrip(), carets]


def printable(text: str) -> str:
    """The text with every character that does not print, or that turns the writing round, spelled out.

    >>> printable("a" + chr(0x202E) + "b")
    'a\\\\u202eb'
    """
    return "".join(c if c.isprintable() else " " if c == "\t" else f"\\u{ord(c):04x}" for c in text)


def shown(text: str, longest: int = 40) -> str:
    """Somebody's text in quotation marks, cut short, safe to print.

    >>> shown("x" * 50, longest=5)
    '"xxxxx…"'
    """
    return f'"{printable(text[:longest])}{"…" if len(text) > longest else ""}"'


def nearest(name: str, known: Iterable[str], plural: str) -> str:
    """A mend for a name that is not known: the one most like it, or those there are.

    >>> nearest("S1x", ["S1a", "T"], "batteries")
    'did you mean "S1a"?'
    >>> nearest("Q", ["S1a", "T"], "batteries")
    'batteries there are: "S1a", "T"'
    """
    names = sorted(known)
    close = get_close_matches(name, names, n=1)
    if close:
        return f"did you mean {shown(close[0])}?"
    listed = ", ".join(shown(n) for n in names[:8]) + (", ..." if len(names) > 8 else "")
    return f"{plural} there are: {listed}" if names else f"there are no {plural} yet: add it"


@dataclass
class Page:
    """A file while it is read: its lines, and the faults found so far."""

    file: str
    lines: tuple[str, ...]
    faults: list[Fault] = field(default_factory=list)
    folder: Path = Path()  # where the files lie that it names
    coordinate_unit: str = ""  # unit of bare numbers in coordinates; "": they need one
    bare: list[float] = field(default_factory=list)  # those that were read

    def fault(self, mark: Mark, message: str, mend: str) -> None:
        excerpt = self.lines[mark.line - 1] if 0 < mark.line <= len(self.lines) else ""
        width = max(1, min(mark.width, len(excerpt) - mark.column + 1))
        self.faults.append(Fault(self.file, mark.line, mark.column, message, mend, excerpt, width))


def page_of(file: str, text: str) -> Page:
    return Page(file, tuple(LINE_ENDS.split(text)))


def in_line_order(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Of one file: by line, then column, each said once."""
    return tuple(dict.fromkeys(sorted(faults, key=lambda f: (f.line, f.column, f.message))))


def faults_text(faults: tuple[Fault, ...]) -> str:
    """All of them, a blank line between; beyond the first 200 only how many more there are."""
    parts = [fault.text() for fault in faults[:MOST_SHOWN]]
    if len(faults) > MOST_SHOWN:
        parts.append(f"and {how_many(len(faults) - MOST_SHOWN, 'more fault')}")
    return "\n\n".join(parts)
