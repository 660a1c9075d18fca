"""YAML text as a tree whose every part knows its place in the file.

Built from the parser's events, so that depth and number are limited while reading. Scalars stay the text that was
written: what `no` or `1e3` means is for whoever asks. Anchors, aliases and tags are refused.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from cutlist.job.faults import WHOLE_FILE, Mark, Page, shown

DEEPEST = 20  # the job file's own depth is 8
MOST_NODES = 40_000  # 1 000 solids take about 15 000


@dataclass(frozen=True)
class Scalar:
    text: str
    mark: Mark
    quoted: bool = False


@dataclass(frozen=True)
class Listing:
    items: tuple[Node, ...]
    mark: Mark


@dataclass(frozen=True)
class Table:
    entries: dict[str, tuple[Mark, Node]]  # key: where it stands, what it holds
    mark: Mark


Node = Scalar | Listing | Table


class _Stop(Exception):
    """Nothing after this place can be read."""


@dataclass
class _Open:
    """A list or table whose end has not been reached."""

    mark: Mark
    is_table: bool
    items: list[Node]
    entries: dict[str, tuple[Mark, Node]]
    key: Scalar | None = None


def read_tree(text: str, page: Page) -> Node | None:
    """The one document in the text. None, with the reason on the page, if it is not YAML as this tool reads it."""
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError, YAMLError
    from ruamel.yaml.reader import ReaderError

    try:
        return _tree(YAML(typ="safe", pure=True).parse(text), page)
    except _Stop:
        return None
    except MarkedYAMLError as fault:
        place = fault.problem_mark or fault.context_mark
        mark = Mark(place.line + 1, place.column + 1) if place else WHOLE_FILE
        page.fault(
            mark, f"this is not YAML: {_first_line(fault.problem or fault.context)}", _mend_of(fault.problem or "")
        )
    except ReaderError as fault:
        line = text.count("\n", 0, fault.position) + 1
        column = fault.position - (text.rfind("\n", 0, fault.position) + 1) + 1
        page.fault(Mark(line, column), "this character may not stand in YAML", "take it out")
    except (YAMLError, ValueError, RecursionError) as fault:
        page.fault(WHOLE_FILE, f"this is not YAML: {_first_line(str(fault))}", _mend_of(""))
    return None


def _tree(events: Iterator[Any], page: Page) -> Node | None:
    opened: list[_Open] = []
    root: Node | None = None
    documents = count = 0
    for event in events:
        kind = type(event).__name__
        if kind == "DocumentStartEvent":
            documents += 1
            if documents > 1:
                page.fault(
                    _mark(event), "a second document begins here", "keep one document to a file: take out the ---"
                )
                raise _Stop
        if kind in ("SequenceEndEvent", "MappingEndEvent"):
            node = _closed(opened.pop())
        elif kind in ("ScalarEvent", "SequenceStartEvent", "MappingStartEvent", "AliasEvent"):
            count += 1
            _refuse(event, kind, len(opened), count, page)
            if kind != "ScalarEvent":
                opened.append(_Open(_mark(event), kind == "MappingStartEvent", [], {}))
                continue
            node = Scalar(event.value, _mark(event), quoted=event.style in ("'", '"'))
        else:
            continue
        if not opened:
            root = node
        else:
            _place(node, opened[-1], page)
    if root is None:
        page.fault(WHOLE_FILE, "the file holds nothing but comments", "`evenlead new DIR` writes one to start from")
    return root


def _refuse(event: Any, kind: str, depth: int, count: int, page: Page) -> None:
    if kind == "AliasEvent" or event.anchor is not None:
        name = f"{'*' if kind == 'AliasEvent' else '&'}{event.anchor}"
        page.fault(
            _mark(event),
            f"{shown(name)} is an anchor or alias: they are not read, since a few lines of them can stand for millions",
            "write it out where it is wanted, or in quotation marks if it is text",
        )
        raise _Stop
    # plain scalars carry no tag, quoted ones the one of text
    tag = getattr(event, "tag", None)
    if tag is not None and str(tag) != "!":
        page.fault(_mark(event), f"{shown(str(tag))} is a tag: they are not read", "take it out")
        raise _Stop
    if depth >= DEEPEST:
        page.fault(
            _mark(event), f"nested deeper than {DEEPEST} levels", "no part of the file needs that: look for a slip"
        )
        raise _Stop
    if count > MOST_NODES:
        page.fault(_mark(event), f"more than {MOST_NODES} entries", "divide the job: this is more than a site holds")
        raise _Stop


def _place(node: Node, into: _Open, page: Page) -> None:
    if not into.is_table:
        into.items.append(node)
    elif into.key is None:
        if isinstance(node, Scalar):
            into.key = node
        else:
            page.fault(node.mark, "a list or table cannot be a key", "write `key: value`")
            raise _Stop
    else:
        key, into.key = into.key, None
        if isinstance(node, Scalar) and not node.text and not node.quoted:
            node = Scalar("", key.mark)  # what is not there is shown at its key
        if key.text in into.entries:
            first = into.entries[key.text][0].line
            page.fault(key.mark, f"key {shown(key.text)} stands here twice, first in line {first}", "keep one of them")
        else:
            into.entries[key.text] = (key.mark, node)


def _closed(part: _Open) -> Node:
    return Table(part.entries, part.mark) if part.is_table else Listing(tuple(part.items), part.mark)


def _mark(event: Any) -> Mark:
    start, end = event.start_mark, event.end_mark
    width = end.column - start.column if end.line == start.line else 1_000
    return Mark(start.line + 1, start.column + 1, max(1, width))


def _first_line(text: object) -> str:
    return str(text).strip().splitlines()[0][:120] if str(text).strip() else "it cannot be parsed"


def _mend_of(problem: str) -> str:
    if "\\t" in problem or "\t" in problem:
        return "put spaces where the tab is"
    return 'each entry is "key: value", set in by spaces; text with ": " or " #" in it goes in quotation marks'
