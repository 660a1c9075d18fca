"""HTML put together from values: what is not markup already is escaped, so that a name is never more than a name."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from cutlist.sheets.rows import POLE_SIGNS


class Markup(str):
    """Text that is HTML already."""

    __slots__ = ()


NARROW = 4  # columns that a telephone shows side by side
VOID = ("input", "meta", "br")


def tag(name: str, /, *children: object, **attributes: object) -> Markup:
    """An element. An attribute that is True stands bare, one that is None or False is left out; a trailing or inner
    underscore in its name is none or a hyphen.

    >>> tag("td", "1 < 2", class_="x", aria_label='say "so"')
    '<td class="x" aria-label="say &quot;so&quot;">1 &lt; 2</td>'
    """
    written = []
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        key = key.rstrip("_").replace("_", "-")
        written.append(f" {key}" if value is True else f' {key}="{escape(str(value))}"')
    opening = f"<{name}{''.join(written)}>"
    return Markup(opening if name in VOID else f"{opening}{join(*children)}</{name}>")


def join(*children: object) -> Markup:
    """The children one after another, escaped unless they are markup."""
    return Markup("".join(c if isinstance(c, Markup) else escape(str(c)) for c in children))


def table(
    caption: str,
    heads: Sequence[str],
    lines: Sequence[Sequence[object]],
    figures: Sequence[int] = (),
) -> Markup:
    """A table with a caption and column heads; the first cell of a line is its head. It scrolls in a box of its own.

    `figures` are the columns that hold figures: set to the right. Tables of more than NARROW columns become one block
    a line on a narrow screen; their roles are spelt out, because a browser forgets them when the layout changes.
    """
    stacked = len(heads) > NARROW

    def role(name: str) -> str | None:
        return name if stacked else None

    kinds = ["figure" if i in figures else None for i in range(len(heads))]
    columns = list(zip(heads, kinds, strict=True))
    top = tag(
        "tr", *(tag("th", h, scope="col", class_=k, role=role("columnheader")) for h, k in columns), role=role("row")
    )
    first = heads[0] if stacked else None
    body = [
        tag(
            "tr",
            tag(
                "th",
                line[0],
                scope="row",
                class_=kinds[0],
                role=role("rowheader"),
                data_head=first,
            ),
            *(
                tag("td", cell, class_=k, role=role("cell"), data_head=h if stacked else None)
                for cell, (h, k) in zip(line[1:], columns[1:], strict=True)
            ),
            role=role("row"),
        )
        for line in lines
    ]
    whole = tag(
        "table",
        tag("caption", caption),
        tag("thead", top, role=role("rowgroup")),
        tag("tbody", *body, role=role("rowgroup")),
        class_="stacked" if stacked else None,
        role=role("table"),
    )
    return tag("div", whole, class_="wide", tabindex="0", role="region", aria_label=caption)


def bullets(lines: Sequence[str]) -> Markup:
    return tag("ul", *(tag("li", line) for line in lines), class_="cautions")


def pole_sign(pole: str) -> Markup:
    """The sign of a pole in a frame, read out as its word."""
    return tag("span", POLE_SIGNS[pole], class_=f"pole {pole}", role="img", aria_label=pole)
