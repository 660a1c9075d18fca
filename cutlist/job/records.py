"""Tables of keys: each reads itself into a record of sound values, and tells its JSON Schema."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from cutlist.job.faults import Mark, Page, shown
from cutlist.job.kinds import Kind, Schema
from cutlist.job.nodes import Node, Scalar, Table


@dataclass(frozen=True)
class Key:
    name: str
    kind: Kind
    about: str
    needed: bool = False


@dataclass(frozen=True)
class Record:
    """A table that was read: its sound values, and where each stands. Missing or faulty: None."""

    values: dict[str, Any]
    marks: dict[str, Mark]
    mark: Mark
    sound: bool  # nothing that is needed is missing or faulty

    def __getitem__(self, key: str) -> Any:
        return self.values.get(key)

    def get(self, key: str, otherwise: Any) -> Any:
        value = self.values.get(key)
        return otherwise if value is None else value

    def at(self, key: str) -> Mark:
        return self.marks.get(key, self.mark)


@dataclass(frozen=True)
class Keys:
    """A table with these keys. Of each group in `one_of` exactly one key must stand."""

    what: str  # "a bus bar"
    keys: tuple[Key, ...]
    one_of: tuple[tuple[str, ...], ...] = ()

    def read(self, node: Node, page: Page) -> Record | None:
        if not isinstance(node, Table):
            page.fault(node.mark, f"{self.what} is wanted here", f"write it as keys and values: {self._example()}")
            return None
        values: dict[str, Any] = {}
        sound = True
        known = {key.name: key for key in self.keys}
        before: Node | None = None
        for name, (mark, value) in node.entries.items():
            if name not in known and (whole := _decimal_comma(before, name, value)) is not None:
                sound = False
                page.fault(mark, f"{shown(whole)} is read as two entries", f"write {whole.replace(',', '.')}")
            elif name not in known:
                page.fault(mark, f"{shown(name)} is no key of {self.what}", self._nearest(name))
            elif (read := known[name].kind.read(value, page)) is None:
                sound = False
            else:
                values[name] = read
            before = value
        marks = {name: value.mark for name, (_, value) in node.entries.items()}
        for problem, mend in self._missing(set(node.entries)):
            sound = False
            page.fault(node.mark, problem, mend)
        return Record(values, marks, node.mark, sound)

    def _missing(self, present: set[str]) -> Iterator[tuple[str, str]]:
        for key in self.keys:
            if key.needed and key.name not in present:
                yield f'{self.what} lacks "{key.name}"', f"add {key.name}: {key.about}"
        for group in self.one_of:
            given = [name for name in group if name in present]
            words = " or ".join(f'"{name}"' for name in group)
            if not given:
                yield f"{self.what} lacks {words}", "add one of them"
            elif len(given) > 1:
                yield f"{self.what} has {' and '.join(given)}", f"keep one of {words}"

    def _nearest(self, name: str) -> str:
        names = [key.name for key in self.keys]
        close = get_close_matches(name, names, n=1)
        return f'did you mean "{close[0]}"?' if close else f"keys here: {', '.join(names)}"

    def _example(self) -> str:
        return "{" + ", ".join(f"{key.name}: ..." for key in self.keys[:2]) + "}"

    def schema(self) -> Schema:
        schema: Schema = {
            "type": "object",
            "title": self.what,
            "properties": {key.name: {**key.kind.schema(), "description": key.about} for key in self.keys},
            "additionalProperties": False,
        }
        needed = [key.name for key in self.keys if key.needed]
        if needed:
            schema["required"] = needed
        if self.one_of:
            schema["allOf"] = [{"oneOf": [{"required": [name]} for name in group]} for group in self.one_of]
        return schema


def _decimal_comma(before: Node | None, name: str, value: Node) -> str | None:
    """`price: 11,20}` in one line of a table: the comma ends the entry, and 20 is a key that holds nothing."""
    digits = isinstance(before, Scalar) and not before.quoted and before.text.strip().isdigit()
    # a unit may stand behind: `11,5 mm`
    lone = isinstance(value, Scalar) and not value.text and re.fullmatch(r"\d+(\s*\D{1,8})?", name) is not None
    return f"{before.text.strip()},{name}" if digits and lone and isinstance(before, Scalar) else None


def unique(records: tuple[Record, ...], what: str, page: Page, key: str = "name") -> dict[str, Record]:
    """By name; a name that stands twice, or differs only in capitals, is a fault."""
    found: dict[str, Record] = {}
    small: dict[str, Record] = {}
    for record in records:
        name = record[key]
        if name is None:
            continue
        first = small.get(name.casefold())
        if first is not None:
            page.fault(
                record.at(key),
                f"{what} {shown(name)} has the name of another, in line {first.at(key).line}",
                "give each a name of its own",
            )
            continue
        found[name] = small[name.casefold()] = record
    return found
