"""Triangles from the bytes of an STL file (binary or text) or of an OBJ file. Figures stay in the file's own units.

Both formats are a page long, so they are read here: what is wrong is told by line or by triangle.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Triples = NDArray[np.intp]

HEAD = 84  # bytes of a binary STL before its triangles
RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
VERTEX = re.compile(rb"\bvertex\s+(\S+)\s+(\S+)\s+(\S+)")
MOST_TRIANGLES = 20_000
SIMPLIFY = "simplify it in the program that drew it, or write boxes and prisms: cables need no rivets"


class NotRead(ValueError):
    """What is wrong with the file, and what would mend it."""

    def __init__(self, message: str, mend: str) -> None:
        super().__init__(message)
        self.message, self.mend = message, mend


def triangles_of(raw: bytes, suffix: str) -> tuple[Points, Triples]:
    """Points (n, 3) and triangles (m, 3) as numbers of points. Raises NotRead."""
    if not raw.strip():
        raise NotRead("the file is empty", "export it again")
    if suffix == ".stl":
        return _stl(raw)
    return _obj(raw)


def _stl(raw: bytes) -> tuple[Points, Triples]:
    told = int.from_bytes(raw[80:HEAD], "little")
    if len(raw) == HEAD + RECORD.itemsize * told and told:
        _count(told)
        corners = np.frombuffer(raw, RECORD, told, HEAD)["corners"].astype(float)
        return _loose(corners.reshape(-1, 3))
    if raw.lstrip()[:5].lower() != b"solid":
        whole = f"it has {len(raw)} bytes, its head tells of {told} triangles, which take {HEAD + 50 * told}"
        raise NotRead(
            f"this is no STL file, or one that was cut short: {whole}", "export it again as STL, binary or text"
        )
    found = VERTEX.findall(raw)
    facets = len(re.findall(rb"\bendfacet\b", raw))
    if len(found) != 3 * facets or not facets:
        raise NotRead(
            f"this STL text has {facets} facets and {len(found)} corners, three each are wanted", "export it again"
        )
    _count(facets)
    try:
        return _loose(np.array(found, dtype=float))
    except ValueError:
        wrong = next(text for corner in found for text in corner if not _is_number(text))
        raise NotRead(f"{wrong[:20].decode(errors='replace')!r} is no coordinate", "export it again") from None


def _obj(raw: bytes) -> tuple[Points, Triples]:
    points: list[tuple[float, ...]] = []
    triangles: list[tuple[int, int, int]] = []
    for line, words in _statements(raw):
        if words[0] == "v":
            if len(words) < 4 or not all(map(_is_number, words[1:4])):
                raise NotRead(f"line {line}: a corner needs three numbers", "export it again")
            points.append(tuple(float(word) for word in words[1:4]))
        elif words[0] == "f":
            ring = [_corner(word, line, len(points)) for word in words[1:]]
            if len(ring) < 3:
                raise NotRead(f"line {line}: a face needs three corners or more", "export it again")
            triangles += _fan(ring, points, line)
            _count(len(triangles))
    if not triangles:
        raise NotRead("this is no OBJ file of a surface: it has no face (a line that begins with f)", "export it again")
    return np.array(points, dtype=float), np.array(triangles, dtype=np.intp)


def _statements(raw: bytes) -> Iterator[tuple[int, list[str]]]:
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")  # names may be in any coding; figures are plain
    if "\x00" in text:
        raise NotRead("this is a binary file, not an OBJ file", "export it as OBJ")
    for line, row in enumerate(text.replace("\\\r\n", " ").replace("\\\n", " ").splitlines(), start=1):
        words = row.split()
        if words:
            yield line, words


def _corner(word: str, line: int, known: int) -> int:
    """`7`, `7/1`, `7//3`, or counted back from the last: `-1`."""
    first = word.split("/")[0]
    number = int(first) if re.fullmatch(r"[+-]?\d{1,9}", first) else 0
    index = number - 1 if number > 0 else known + number
    if number == 0 or not 0 <= index < known:
        raise NotRead(f"line {line}: there is no corner {word[:20]!r}: {known} are told before it", "export it again")
    return index


def _fan(ring: list[int], points: list[tuple[float, ...]], line: int) -> list[tuple[int, int, int]]:
    """A face of more than three corners as triangles from its first; that takes a face without inner corners."""
    fan = [(ring[0], ring[i], ring[i + 1]) for i in range(1, len(ring) - 1)]
    if len(fan) > 1:
        a, b, c = (np.array([points[t[k]] for t in fan]) for k in range(3))
        normals = np.cross(b - a, c - a)
        if (normals @ normals.sum(axis=0) < 0).any():
            raise NotRead(f"line {line}: a face of {len(ring)} corners has an inner corner", "export it as triangles")
    return fan


def _count(triangles: int) -> None:
    if triangles > MOST_TRIANGLES:
        raise NotRead(f"it has {triangles} triangles or more; {MOST_TRIANGLES} at most are read", SIMPLIFY)


def _loose(corners: Points) -> tuple[Points, Triples]:
    return corners, np.arange(len(corners), dtype=np.intp).reshape(-1, 3)


def _is_number(word: str | bytes) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True
