"""What is on hand, changed in the text of a stock file: comments, order and all other lines stay as they are.

Only the stretches that change are written anew, found by the parser's own marks. Whoever calls reads the new text
again and compares: a file written in a way that this does not foresee is refused, never spoilt.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from cutlist.bank.stock import CableStock, Remnant, Stock

Edit = tuple[int, int, str]  # from, to, new text
PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9./+-]*( [A-Za-z0-9./+-]+)*")
WORDS = {"yes", "no", "true", "false", "null", "on", "off"}


class CannotEdit(ValueError):
    """The file is written in a way that this does not change safely."""


def edited(text: str, before: Stock, after: Stock) -> str:
    """The text of a stock file that reads as `before`, changed to read as `after` in what is on hand.

    Raises CannotEdit.
    """
    from ruamel.yaml import YAML

    root = YAML(typ="safe", pure=True).compose(text)
    edits: list[Edit] = []
    for node, old, new in zip(_items(root, "cable"), before.cables, after.cables, strict=True):
        edits += _remnant_edits(text, node, old, new)
        for item, spool, later in zip(_items(node, "spools"), old.spools, new.spools, strict=True):
            edits += _key_edits(text, item, "available", spool.available, later.available)
    for key, olds, news in (
        ("lugs", before.lugs, after.lugs),
        ("fuses", before.fuses, after.fuses),
        ("sundries", before.sundries, after.sundries),
    ):
        things: Sequence[Any] = olds
        later_things: Sequence[Any] = news
        for item, thing, later_thing in zip(_items(root, key), things, later_things, strict=True):
            edits += _key_edits(text, item, "on hand", thing.on_hand, later_thing.on_hand)
    for start, end, new_text in sorted(edits, reverse=True):
        text = text[:start] + new_text + text[end:]
    return text


def _value(node: Any, key: str) -> Any:
    return next((value for name, value in node.value if name.value == key), None)


def _items(node: Any, key: str) -> list[Any]:
    found = _value(node, key)
    return [] if found is None else list(found.value)


def _remnant_edits(text: str, cable: Any, old: CableStock, new: CableStock) -> list[Edit]:
    later = {r.label: r for r in new.remnants}
    known = {r.label for r in old.remnants}
    edits: list[Edit] = []
    gone = []
    for item, remnant in zip(_items(cable, "remnants"), old.remnants, strict=True):
        now = later.get(remnant.label)
        if now is None:
            gone.append(item)
            continue
        if now.length_um != remnant.length_um:
            length = _value(item, "length")
            edits.append((length.start_mark.index, length.end_mark.index, _mm(now.length_um)))
        if now.book_value != remnant.book_value:
            edits += _key_edits(text, item, "book value", remnant.book_value, now.book_value)
    return _list_edits(text, cable, gone, [r for r in new.remnants if r.label not in known], edits)


def _list_edits(text: str, cable: Any, gone: Sequence[Any], added: Sequence[Remnant], within: list[Edit]) -> list[Edit]:
    """Remnants taken out of the list, and new ones put at its end; `within`: edits of those that stay."""
    if not gone and not added:
        return within
    listing = _value(cable, "remnants")
    written = [_flow(r) for r in added]
    if listing is None:
        return [_new_list(text, cable, written)]
    if listing.flow_style:
        start, end = listing.start_mark.index, listing.end_mark.index
        if "#" in text[start:end]:
            raise CannotEdit("a comment stands inside the brackets of a list of remnants")
        left = [_slice(text, i, within) for i in listing.value if not any(i is g for g in gone)]
        if any("\n" in part for part in left):
            raise CannotEdit("a remnant in brackets runs over several lines")
        return [(start, end, "[" + ", ".join([*left, *written]) + "]")]
    edits = [*within]
    for item in gone:
        start = _dash(text, item)
        edits.append((text.rfind("\n", 0, start) + 1, _next_line(text, _end(item)), ""))
    indent = " " * (_dash(text, listing.value[0]) - text.rfind("\n", 0, _dash(text, listing.value[0])) - 1)
    after = _next_line(text, _end(listing.value[-1]))
    newline = _newline(text)
    if written:
        lead = "" if text[after - 1 : after] == "\n" else newline
        edits.append((after, after, lead + "".join(f"{indent}- {w}{newline}" for w in written)))
    elif len(gone) == len(listing.value):
        key = next(name for name, value in cable.value if value is listing)
        colon = text.index(":", key.end_mark.index) + 1
        edits.append((colon, colon, " []"))
    return edits


def _slice(text: str, item: Any, edits: Sequence[Edit]) -> str:
    start, end = item.start_mark.index, item.end_mark.index
    part = text[start:end]
    for first, last, new in sorted((e for e in edits if start <= e[0] <= end), reverse=True):
        part = part[: first - start] + new + part[last - start :]
    return part


def _new_list(text: str, cable: Any, written: Sequence[str]) -> Edit:
    colour = _value(cable, "colour")
    if cable.flow_style:
        at = colour.end_mark.index
        return (at, at, f", remnants: [{', '.join(written)}]")
    key = cable.value[0][0]
    indent = " " * key.start_mark.column
    at = _next_line(text, colour.end_mark.index)
    newline = _newline(text)
    lead = "" if text[at - 1 : at] == "\n" else newline
    lines = [f"{indent}remnants:", *(f"{indent}  - {w}" for w in written)]
    return (at, at, lead + "".join(line + newline for line in lines))


def _key_edits(text: str, item: Any, key: str, old: int | Decimal | None, new: int | Decimal | None) -> list[Edit]:
    if old == new or new is None:
        return []
    figure = f"{new:f}" if isinstance(new, Decimal) else str(new)
    value = _value(item, key)
    if value is not None:
        return [(value.start_mark.index, value.end_mark.index, figure)]
    last = item.value[-1][1]
    if item.flow_style:
        return [(last.end_mark.index, last.end_mark.index, f", {key}: {figure}")]
    at = _next_line(text, _end(last))
    newline = _newline(text)
    lead = "" if text[at - 1 : at] == "\n" else newline
    return [(at, at, f"{lead}{' ' * item.value[0][0].start_mark.column}{key}: {figure}{newline}")]


def _dash(text: str, item: Any) -> int:
    """Where the dash of a list item stands, with nothing but spaces before it on its line."""
    line = text.rfind("\n", 0, item.start_mark.index) + 1
    before = text[line : item.start_mark.index]
    if before.strip() != "-":
        raise CannotEdit(f"a remnant does not begin beside its dash, in line {item.start_mark.line + 1}")
    return line + before.index("-")


def _end(node: Any) -> int:
    """Where the last word of a node ends: a block's own mark stands behind the comments that follow it."""
    if isinstance(node.value, str) or node.flow_style:
        return int(node.end_mark.index)
    last = node.value[-1]
    return _end(last[1] if isinstance(last, tuple) else last)


def _next_line(text: str, at: int) -> int:
    found = text.find("\n", at)
    return len(text) if found < 0 else found + 1


def _newline(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _flow(remnant: Remnant) -> str:
    book = f", book value: {remnant.book_value:f}" if remnant.book_value else ""
    return f"{{label: {_quoted(remnant.label)}, length: {_mm(remnant.length_um)}{book}}}"


def _quoted(text: str) -> str:
    if PLAIN.fullmatch(text) and text.casefold() not in WORDS:
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _mm(length_um: int) -> str:
    return f"{(Decimal(length_um) / 1000).normalize():f} mm"
