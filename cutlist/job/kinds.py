"""What may stand in a job or stock file: kinds of value, each of which reads itself and tells its JSON Schema.

The tables of keys (`job_keys`, `stock_keys`) are made of these. Reader and schema come from the same declaration,
so they cannot drift apart. A value that is faulty is read as None, with the fault on the page.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from fractions import Fraction
from typing import Any, Protocol

from cutlist.findings import how_many
from cutlist.job.faults import Mark, Page, shown
from cutlist.job.nodes import Listing, Node, Scalar
from cutlist.job.units import LENGTH, NUMBER_ALONE, Dimension, Unreadable, number, quantity

LONGEST_NAME = 60
YES = ("yes", "true")
NO = ("no", "false")
Schema = dict[str, Any]
# a figure, and something after it that is none
WITH_UNIT = r"[0-9½¼¾⅛⅜⅝⅞⅓⅔].*[^0-9.\s]$"


class Kind(Protocol):
    def read(self, node: Node, page: Page) -> Any: ...

    def schema(self) -> Schema: ...


def scalar_text(node: Node, page: Page, wanted: str) -> str | None:
    """The text of a scalar that is not empty; else None and a fault."""
    if isinstance(node, Scalar) and node.text.strip():
        return node.text.strip()
    found = "nothing" if isinstance(node, Scalar) else "a list" if isinstance(node, Listing) else "a table"
    page.fault(node.mark, f"{found} stands where {wanted} is wanted", f"write {wanted}")
    return None


@dataclass(frozen=True)
class Text:
    """Free text in one piece."""

    longest: int = 400
    wanted: str = "text"

    def read(self, node: Node, page: Page) -> str | None:
        text = scalar_text(node, page, self.wanted)
        if text is None:
            return None
        text = " ".join(text.split("\n"))
        strange = next((c for c in text if not c.isprintable()), None)
        if strange is not None:
            page.fault(
                node.mark,
                f"{self.wanted} holds the character U+{ord(strange):04X}, which is unseen or turns the writing round",
                f"write {shown(''.join(c for c in text if c.isprintable()))}",
            )
            return None
        if len(text) > self.longest:
            page.fault(
                node.mark,
                f"{self.wanted} of {len(text)} characters is too long",
                f"use at most {self.longest} characters",
            )
            return None
        return text

    def schema(self) -> Schema:
        return {"type": ["string", "number"], "maxLength": self.longest}


NAME = Text(LONGEST_NAME, "a name")
FILE = Text(400, "the name of a file")


@dataclass(frozen=True)
class Written:
    """Text of a form of its own, such as a stud size, read by a function of `units`."""

    reader: Callable[[str], Any]
    wanted: str
    pattern: str = ""

    def read(self, node: Node, page: Page) -> Any:
        text = scalar_text(node, page, self.wanted)
        if text is None:
            return None
        try:
            return self.reader(text)
        except Unreadable as fault:
            page.fault(node.mark, fault.message, fault.mend)
            return None

    def schema(self) -> Schema:
        return {"type": "string", **({"pattern": self.pattern} if self.pattern else {})}


@dataclass(frozen=True)
class Choice:
    options: tuple[str, ...]

    def read(self, node: Node, page: Page) -> str | None:
        text = scalar_text(node, page, f"one of {', '.join(self.options)}")
        if text is None or text in self.options:
            return text
        by_small = {option.casefold(): option for option in self.options}
        if text.casefold() in by_small:
            return by_small[text.casefold()]
        close = get_close_matches(text, self.options, n=1)
        hint = f"did you mean {shown(close[0])}? " if close else ""
        page.fault(node.mark, f"{shown(text)} is not known here", f"{hint}write one of: {', '.join(self.options)}")
        return None

    def schema(self) -> Schema:
        return {"enum": list(self.options)}


@dataclass(frozen=True)
class YesNo:
    def read(self, node: Node, page: Page) -> bool | None:
        text = scalar_text(node, page, "yes or no")
        if text is None:
            return None
        if text.lower() in (*YES, *NO):
            return text.lower() in YES
        page.fault(node.mark, f"{shown(text)} is neither yes nor no", "write yes or no")
        return None

    def schema(self) -> Schema:
        return {"enum": ["yes", "no", True, False]}


@dataclass(frozen=True)
class Whole:
    least: int = 0
    most: int = 10_000

    def read(self, node: Node, page: Page) -> int | None:
        text = scalar_text(node, page, "a whole number")
        if text is None:
            return None
        if not text.lstrip("+-").isdecimal() or len(text) > 12:
            page.fault(
                node.mark, f"{shown(text)} is not a whole number", f"write a number from {self.least} to {self.most}"
            )
            return None
        value = int(text)
        if not self.least <= value <= self.most:
            page.fault(node.mark, f"{value} is not from {self.least} to {self.most}", "look for a slipped digit")
            return None
        return value

    def schema(self) -> Schema:
        return {"type": "integer", "minimum": self.least, "maximum": self.most}


@dataclass(frozen=True)
class Money:
    def read(self, node: Node, page: Page) -> Decimal | None:
        text = scalar_text(node, page, "an amount of money")
        if text is None:
            return None
        try:
            value = Decimal(text if NUMBER_ALONE.fullmatch(text) else "nan")
        except InvalidOperation:
            value = Decimal("nan")
        if not value.is_finite():
            # a comma before one or two digits parts cents; before three it may part thousands
            meant = text.replace(",", ".") if re.fullmatch(r"\d+,\d\d?", text) else "the bare amount, such as 12.50"
            page.fault(node.mark, f"{shown(text)} is no amount of money", f"write {meant}")
            return None
        exponent = value.as_tuple().exponent
        if not 0 <= value <= 10**9 or not isinstance(exponent, int) or exponent < -4:
            page.fault(
                node.mark,
                f"{shown(text)} is no price",
                "prices are from 0 to 1 000 000 000, with at most four decimals",
            )
            return None
        return value

    def schema(self) -> Schema:
        return {"anyOf": [{"type": "number", "minimum": 0}, {"type": "string", "pattern": r"^\d+(\.\d{1,4})?$"}]}


@dataclass(frozen=True)
class Quantity:
    """A number with its unit, within bounds that are given in the base unit. Read as an exact fraction.

    `bare`: in coordinates a number may stand alone where the file declares their unit.
    """

    dimension: Dimension
    least: Fraction | int | None = 0
    most: Fraction | int | None = None
    above_zero: bool = False
    bare: bool = False

    def read(self, node: Node, page: Page) -> Fraction | None:
        wanted = f"{'an' if self.dimension.name[0] in 'aeiou' else 'a'} {self.dimension.name}"
        text = scalar_text(node, page, wanted)
        if text is None:
            return None
        try:
            if self.bare and page.coordinate_unit and NUMBER_ALONE.fullmatch(text):
                page.bare.append(float(number(text)))
                text = f"{text} {page.coordinate_unit}"
            value = quantity(text, self.dimension)
        except Unreadable as fault:
            mend = fault.mend
            if self.bare and fault.message.endswith("has no unit"):
                mend += ', or declare the unit of all coordinates once: "coordinates: mm"'
            page.fault(node.mark, fault.message, mend)
            return None
        return self._within(value, text, node.mark, page)

    def _within(self, value: Fraction, text: str, mark: Mark, page: Page) -> Fraction | None:
        unit = self.dimension.base.replace("*hour", "h").replace("degC", "°C")
        if self.above_zero and value <= 0:
            page.fault(mark, f"{shown(text)} is not above zero", "look for a sign or a digit that slipped")
        elif self.least is not None and value < self.least:
            at_least = "negative" if self.least == 0 else f"below {_figure(self.least, self.dimension)} {unit}"
            page.fault(mark, f"{shown(text)} is {at_least}", "look for a sign or a digit that slipped")
        elif self.most is not None and value > self.most:
            page.fault(mark, f"{shown(text)} is above {_figure(self.most, self.dimension)}", "look for a slipped digit")
        else:
            return value
        return None

    def schema(self) -> Schema:
        written = {"type": "string", "pattern": WITH_UNIT, "examples": [f"12 {self.dimension.example}"]}
        return {"anyOf": [{"type": "number"}, written]} if self.bare else written


def _figure(value: Fraction | int, dimension: Dimension) -> str:
    return f"{float(value) * 100:g} %" if dimension.name == "share" else f"{float(value):g}"


COORDINATE = Quantity(LENGTH, least=None, bare=True)
SIZE = Quantity(LENGTH, above_zero=True, bare=True)


@dataclass(frozen=True)
class Row:
    """A fixed number of values side by side: a point, a size, a pair of coordinates. Read as a tuple of floats."""

    of: Kind
    count: int
    wanted: str

    def read(self, node: Node, page: Page) -> tuple[float, ...] | None:
        if not isinstance(node, Listing) or len(node.items) != self.count:
            found = how_many(len(node.items), "value") if isinstance(node, Listing) else "something else"
            if isinstance(node, Scalar) and node.text:
                found = shown(node.text)
            example = ", ".join(["0"] * self.count)
            page.fault(
                node.mark,
                f"{found} where {self.wanted} is wanted",
                f"write {how_many(self.count, 'value')}: [{example}]",
            )
            return None
        values = [self.of.read(item, page) for item in node.items]
        return None if None in values else tuple(float(v) for v in values)

    def schema(self) -> Schema:
        return {"type": "array", "items": self.of.schema(), "minItems": self.count, "maxItems": self.count}


@dataclass(frozen=True)
class Number:
    """A plain number without a unit: part of a direction."""

    def read(self, node: Node, page: Page) -> float | None:
        text = scalar_text(node, page, "a number")
        if text is None:
            return None
        try:
            return float(number(text))
        except Unreadable as fault:
            page.fault(node.mark, fault.message, fault.mend)
            return None

    def schema(self) -> Schema:
        return {"type": "number"}


POINT = Row(COORDINATE, 3, "a point of x, y, z")
PLANE_POINT = Row(COORDINATE, 2, "a pair of coordinates")
BOX_SIZE = Row(SIZE, 3, "a size along x, y, z")


@dataclass(frozen=True)
class ListOf:
    of: Kind
    least: int = 0
    most: int = 5_000
    wanted: str = "a list"
    whole: bool = False  # each item stands for a thing of its own: without a faulty one the others are not read

    def read(self, node: Node, page: Page) -> tuple[Any, ...] | None:
        if not isinstance(node, Listing):
            page.fault(node.mark, f"{self.wanted} is wanted here", "write one item a line after '- ', or [a, b, c]")
            return None
        if not self.least <= len(node.items) <= self.most:
            page.fault(
                node.mark,
                f"{how_many(len(node.items), 'item')} given here",
                f"give from {self.least} to {self.most} of them",
            )
            return None
        values = [self.of.read(item, page) for item in node.items]
        sound = tuple(value for value in values if value is not None)
        return sound if len(sound) >= (len(values) if self.whole else self.least) else None

    def schema(self) -> Schema:
        return {"type": "array", "items": self.of.schema(), "minItems": self.least, "maxItems": self.most}


@dataclass(frozen=True)
class Either:
    """One kind when a scalar stands there, another when a list or a table does."""

    scalar: Kind | None = None
    listing: Kind | None = None
    table: Kind | None = None

    def read(self, node: Node, page: Page) -> Any:
        kind = self.scalar if isinstance(node, Scalar) else self.listing if isinstance(node, Listing) else self.table
        if kind is None:
            kind = self.table or self.listing or self.scalar
        assert kind is not None
        return kind.read(node, page)

    def schema(self) -> Schema:
        return {"anyOf": [kind.schema() for kind in (self.scalar, self.listing, self.table) if kind is not None]}


@dataclass(frozen=True)
class OneOrMore:
    """A list that is one value written as numbers, or several values. Read as a tuple of values."""

    one: Row
    each: Kind

    def read(self, node: Node, page: Page) -> tuple[Any, ...] | None:
        items = node.items if isinstance(node, Listing) else ()
        if items and all(isinstance(item, Scalar) and _is_number(item.text) for item in items):
            value = self.one.read(node, page)
            return None if value is None else (value,)
        values = ListOf(self.each, least=1, most=26).read(node, page)
        return values or None

    def schema(self) -> Schema:
        return {"anyOf": [self.one.schema(), ListOf(self.each, least=1, most=26).schema()]}


def _is_number(text: str) -> bool:
    try:
        number(text)
    except Unreadable:
        return False
    return True
