"""The whole plan as one page that needs no network: drawings, tables, findings, cautions.

Everything on it comes from the plan; the script adds turning the 3D view, ticks that survive a reload, and light or
dark. Without the script the page still reads and prints.
"""

from __future__ import annotations

import base64
import hashlib
from importlib import resources

from cutlist.findings import how_many
from cutlist.plan_types import Plan
from cutlist.sheets.cautions import cautions_at
from cutlist.sheets.finding_groups import grouped, settle_first, to_look_at, told
from cutlist.sheets.grouping_text import grouping_saving
from cutlist.sheets.later_text import later_words
from cutlist.sheets.lengths import length_text, metres_text, other_unit
from cutlist.sheets.markup import Markup, bullets, join, tag
from cutlist.sheets.order_rows import covered_text, total_text
from cutlist.sheets.page_compare import compare_part
from cutlist.sheets.page_design import (
    current_part,
    drawing_part,
    places_part,
    record_part,
    runs_part,
    scene_data,
)
from cutlist.sheets.page_equal import equal_part, what_if_part
from cutlist.sheets.page_findings import findings_part
from cutlist.sheets.page_proof import proof_part
from cutlist.sheets.page_work import cuts_part, laying_part, order_part, terminations_part
from cutlist.sheets.plan_json import plan_mark
from cutlist.sheets.rows import (
    all_in_text,
    bar_text,
    conductor_text,
    kinds_text,
    least_waste_asked,
    longest_text,
    money_text,
    waste_text,
)
from cutlist.sheets.scene import scene_of


def plan_html(plan: Plan, mark: str = "") -> str:
    """The page. The same plan gives the same text. `mark` is the plan's, if it is known already: see plan_mark."""
    mark = mark or plan_mark(plan)
    scene = scene_of(plan)
    style, script = _asset("page.css") + _asset("views.css"), _asset("page.js") + _asset("view3d.js")
    policy = f"default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src '{_hash(script)}'"
    parts = [
        ("result", "The plan at a glance", _glance(plan)),
        ("drawing", "Drawing", drawing_part(plan, scene)),
        ("runs", "Runs", runs_part(plan)),
        ("cuts", "Cuts", cuts_part(plan)),
        ("laying", "Laying", laying_part(plan)),
        ("terminations", "Terminations", terminations_part(plan)),
        ("order", "Order", order_part(plan)),
        ("current", "Current and drop", current_part(plan)),
        ("places", "Places of the bus bars", places_part(plan)),
        ("proof", "How good places and cuts are", proof_part(plan)),
        ("equal", "How equal is enough", equal_part(plan)),
        ("compared", "Ways compared", compare_part(plan)),
        ("what-if", "What if", what_if_part(plan)),
        ("findings", "Findings", findings_part(plan)),
        ("record", "Calculation record", record_part(plan)),
        ("limits", "What is left out, and cautions", _limits(plan)),
    ]
    shown = [part for part in parts if part[2]]
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", http_equiv="Content-Security-Policy", content=policy),
        tag("meta", name="color-scheme", content="light dark"),
        tag("title", f"{plan.job.name}: plan"),
        tag("style", Markup(style)),
    )
    body = tag(
        "body",
        tag("a", "Skip to the plan", href="#result", class_="skip"),
        tag(
            "header",
            tag("h1", plan.job.name),
            tag("p", "Plan ", tag("span", mark, class_="mark"), ", lengths in ", _unit_name(plan.job.units)),
            tag("button", "Light or dark", type="button", id="theme", hidden=True),
        ),
        tag(
            "nav",
            tag("ul", *(tag("li", tag("a", h, href=f"#{n}")) for n, h, _ in shown)),
            aria_label="Parts of the plan",
        ),
        tag("main", *(tag("section", tag("h2", h, id=n), b, aria_labelledby=n) for n, h, b in shown)),
        tag("script", scene_data(plan, scene), type="application/json", id="scene"),
        tag("script", Markup(script)),
        data_plan=mark,
    )
    return f"<!DOCTYPE html>\n{tag('html', head, body, lang='en')}\n"


def _asset(name: str) -> str:
    return resources.files("cutlist.sheets").joinpath(name).read_text(encoding="utf-8")


def _hash(script: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def _unit_name(units: str) -> str:
    return "feet and inches" if units == "in" else "millimetres"


def _glance(plan: Plan) -> Markup:
    units = plan.job.units
    failing = plan.failing
    state = (
        tag(
            "div",
            tag("p", tag("strong", f"{how_many(len(failing), 'limit')} not met")),
            tag("ul", *(tag("li", line) for line in told(grouped(plan.findings, "fail")))),
            class_="state fail",
        )
        if failing
        else tag("p", "Every limit that could be checked is met.", class_="state")
    )
    cuts = plan.cut_plan
    surplus = sorted(lead.surplus_m for lead in plan.leads)
    facts: list[tuple[str, str]] = [
        (
            "Cut length of the leads",
            length_text(plan.target_um, units, up=True)
            + f" ({length_text(plan.target_um, other_unit(units), up=True)}){longest_text(plan)}",
        ),
        ("Leads matched", plan.job.policy.match),
        *((f"{b.bar.pole.capitalize()} bus bar", bar_text(b, units)) for b in plan.bars),
        *([("Strings", grouping_saving(plan))] if plan.regrouped is not None else []),
        ("Conductors", "; ".join(_conductors(plan))),
        ("Surplus", f"{metres_text(surplus[0], units)} to {metres_text(surplus[-1], units)}" if surplus else "none"),
        (
            "Cable cut, bought",
            f"{length_text(cuts.cut_um, units)}, {length_text(cuts.bought_um, units)}; {kinds_text(plan)}",
        ),
        ("Scrap", waste_text(cuts, units)),
        ("Order", f"{total_text(plan)}: {covered_text(plan)}"),
        ("Cable used, without lugs", _bound(plan)),
    ]
    later = later_words(plan.later_strings, plan.later_leads, plan.stock.currency, units)
    if later:
        facts.append(("Later strings", " ".join(later)))
    facts += [
        (
            f"Worst drop at {load.load}",
            f"{100 * load.drop:.2f} % ({load.drop_v:.3f} V), limit {100 * plan.job.limits.drop:g} %"
            + all_in_text(plan),
        )
        for load in plan.loads
    ]
    notes = [tag("p", tag("strong", words)) for words in settle_first(plan)]
    notes += [tag("p", words, ".") for words in (to_look_at(plan),) if words]
    return join(state, *notes, tag("dl", *(join(tag("dt", k), tag("dd", v)) for k, v in facts), class_="facts"))


def _conductors(plan: Plan) -> list[str]:
    words = []
    for kind in ("lead", "jumper", "feeder"):
        sizes = dict.fromkeys(conductor_text(c.conductor) for c in plan.cables if c.kind == kind)
        if sizes:
            words.append(f"{kind}s {', '.join(sizes)}")
    return words


def _bound(plan: Plan) -> str:
    cuts = plan.cut_plan
    if cuts.cost is None:
        return "not known: a price is missing"
    if cuts.least_cost is None:
        counted = (
            "planned for least waste, as asked" if least_waste_asked(cuts) else "planned by metres: a price is missing"
        )
        return f"{cuts.currency} {money_text(cuts.cost)}, what is from stock at its value; {counted}"
    gap = "proved least" if cuts.gap == 0 else f"no plan costs less than {money_text(cuts.least_cost)}"
    return f"{cuts.currency} {money_text(cuts.cost)}, what is from stock at its value; {gap}"


def _limits(plan: Plan) -> Markup:
    parts = []
    left_out = [words for words in plan.left_out if words not in settle_first(plan)]
    if left_out:
        parts.append(tag("h3", "This plan does not look at"))
        parts.append(bullets(left_out))
    parts.append(tag("h3", "Cautions"))
    parts.append(bullets(cautions_at("cover")))
    return join(*parts)
