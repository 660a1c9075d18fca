"""Other places of the bus bars, for the terminal, and as files: tables and a picture of every face."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Sequence

from cutlist.bank.job import Job
from cutlist.layout.landscape import Landscape
from cutlist.place_types import FaceCost, PlaceMove, PlaceOption
from cutlist.planning.landscapes import Longer, Places
from cutlist.sheets.face_map import face_map_files
from cutlist.sheets.landscape_rows import (
    LAID,
    SPEAKS_OF,
    covers_text,
    in_money,
    move_rows,
    moved_text,
    option_rows,
    step_sentence,
    where_rows,
)
from cutlist.sheets.lengths import length_text, metres_text
from cutlist.sheets.plain_table import plain_table
from cutlist.sheets.rows import money_text

WIDE = 100


def landscape_text(found: Places, units: str, currency: str) -> str:
    """The ten best different places, what 50 mm cost, the next step of cost, both fronts, and longer runs."""
    told = found.landscape
    money = in_money(told.options)
    cost = "Cost" if money else "Cable bought"
    parts = [
        f"Best different pairs of places ({f'{currency}; ' if money else ''}{SPEAKS_OF})\n",
        textwrap.fill(covers_text(told.options), WIDE) + "\n",
        plain_table(*option_rows(told.options, units)),
        "",
        plain_table(*where_rows(told.options, units)),
        "\nHeight: of the lower bus bar over the zero of the site. Free in front: to the next thing or wall.",
        "\n" + textwrap.fill(moved_text(told.moves), WIDE) + "\n",
        plain_table(*move_rows(told.moves, units)),
        "\n" + textwrap.fill(step_sentence(told, units), WIDE),
        f"\n{cost} against drop: each holds less drop than the one before, at least {cost.lower()} (within 1 %)\n",
        plain_table(*option_rows(told.cost_and_drop, units)),
    ]
    if told.cost_and_share:
        parts.append(f"\n{cost} against share: of all these, each shares more evenly than the one before\n")
        parts.append(plain_table(*option_rows(told.cost_and_share, units)))
    if found.longer:
        parts.append(f"\nIf all {LAID} turned out longer\n")
        parts.append(plain_table(*_longer_rows(found, units)))
    return "\n".join(parts)


def _longer_rows(found: Places, units: str) -> tuple[tuple[str, ...], list[tuple[str, ...]], tuple[int, ...]]:
    best = found.landscape.options[0]
    money = best.cost is not None
    lines: list[tuple[str, ...]] = []
    for longer in found.longer:
        o = longer.option
        if o is None:
            lines.append((metres_text(longer.by_m, units), "", "", "", "no places hold the limits"))
            continue
        stay = (o.positive, o.negative) == (best.positive, best.negative)
        where = "same places" if stay else where_rows([o], units)[1][0][1] + "; " + where_rows([o], units)[1][0][2]
        amount = money_text(o.cost) if money else length_text(o.bought_um, units)
        lines.append((metres_text(longer.by_m, units), amount, _more(o, best, units), f"{o.drop_v:.3f}", where))
    return ("Longer by", "Cost" if money else "Bought", "More", "Drop V", "Best places then"), lines, (0, 1, 2, 3)


def _more(option: PlaceOption, best: PlaceOption, units: str) -> str:
    """Against the best places as things are: money, or cable bought where that is counted."""
    if best.cost is not None:
        return "" if option.cost is None else money_text(option.cost - best.cost)
    more_um = option.bought_um - best.bought_um
    return f"{'-' if more_um < 0 else ''}{length_text(abs(more_um), units)}"


def landscape_files(found: Places, job: Job, costs: Sequence[FaceCost], currency: str = "") -> dict[str, bytes]:
    """Tables as CSV and maps as SVG, by file name."""
    told = found.landscape
    best = told.options[0]
    chosen = {"positive": best.positive, "negative": best.negative}
    files = {
        "map.csv": landscape_csv(found.map),
        "places.csv": _options_csv(told.options),
        "moves.csv": _moves_csv(told.moves),
        "cost-and-drop.csv": _options_csv(told.cost_and_drop),
        "cost-and-share.csv": _options_csv(told.cost_and_share),
    }
    files["longer.csv"] = _longer_csv(found.longer)  # heads alone where nothing was asked: an old table must not stay
    files |= face_map_files(job, costs, chosen, told.options[1:], currency)
    return {name: text.encode() for name, text in files.items()}


def landscape_csv(found: Landscape) -> str:
    """Every place of the map, a line each."""
    heads = ["pole", "face", "turn deg", "along mm", "up mm", "cost", "cable mm", "longest lead mm", "set by", "limit"]
    lines = []
    for p in found.points:
        at = (round(p.a_m * 1000, 1), round(p.b_m * 1000, 1))
        cable = "" if p.laid_um is None else p.laid_um / 1000
        line: list[object] = [p.pole, p.place.face, p.turn, *at, _plain(p.cost), cable]
        lines.append([*line, round(p.longest_m * 1000, 1), p.longest_lead, p.limit])
    return _csv(heads, lines)


def _options_csv(options: Sequence[PlaceOption]) -> str:
    heads = ["no", "cost", "drop V", "longest run mm", "cable mm", "bought mm", "scrap mm", "surplus mm"]
    heads += ["worst share", "height mm", "free in front mm", "limit used most"]
    for pole in ("positive", "negative"):
        heads += [f"{pole} face", f"{pole} turn deg", *(f"{pole} {axis} mm" for axis in "xyz")]
    lines = []
    for number, o in enumerate(options, 1):
        line: list[object] = [number, _plain(o.cost), round(o.drop_v, 6), round(o.longest_run_m * 1000, 1)]
        line += [o.laid_um / 1000, o.bought_um / 1000, "" if o.scrap_um is None else o.scrap_um / 1000]
        line += [round(o.surplus_m * 1000, 1), "" if o.uneven is None else round(o.uneven, 6)]
        line += [round(o.height_m * 1000, 1), round(o.free_m * 1000, 1), o.binds]
        for place, turn in ((o.positive, o.positive_turn), (o.negative, o.negative_turn)):
            line += [place.face, turn, *(round(1000 * x, 1) for x in place.centre)]
        lines.append(line)
    return _csv(heads, lines)


def _moves_csv(moves: Sequence[PlaceMove]) -> str:
    return _csv(
        ["pole", "way", "by mm", "more", "more bought mm", "why not"],
        [[m.pole, m.way, round(1000 * m.by_m, 1), _plain(m.more), _plain_mm(m.more_um), m.why_not] for m in moves],
    )


def _longer_csv(longer: Sequence[Longer]) -> str:
    heads = ["longer by mm", "cost", "drop V", "cable mm", "bought mm"]
    lines = []
    for one in longer:
        o = one.option
        figures: list[object] = [""] * 4
        if o is not None:
            figures = [_plain(o.cost), round(o.drop_v, 6), o.laid_um / 1000, o.bought_um / 1000]
        lines.append([round(1000 * one.by_m, 2), *figures])
    return _csv(heads, lines)


def _plain(amount: object | None) -> str:
    return "" if amount is None else str(amount)


def _plain_mm(um: int | None) -> str:
    return "" if um is None else str(um / 1000)


def _csv(heads: Sequence[str], lines: Sequence[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(heads)
    writer.writerows(lines)
    return out.getvalue()
