"""The parts of the page for the designer: drawings, every run, current and drop, places, findings, record."""

from __future__ import annotations

import json
import math

from cutlist.findings import how_many
from cutlist.plan_types import Plan
from cutlist.sheets.bar_strips import bar_strips
from cutlist.sheets.face_map import face_maps
from cutlist.sheets.landscape_rows import (
    SPEAKS_OF,
    covers_text,
    move_rows,
    moved_text,
    option_rows,
    step_sentence,
    where_rows,
)
from cutlist.sheets.lengths import length_text, metres_text
from cutlist.sheets.markup import Markup, join, pole_sign, table, tag
from cutlist.sheets.mesh_lines import sharp_lines
from cutlist.sheets.place_rows import PLACES_COST, proof_text, saving_sentence
from cutlist.sheets.rows import (
    all_in_text,
    bends_text,
    conductor_text,
    least_radius_text,
    money_text,
    place_text,
    signed_percent,
)
from cutlist.sheets.scene import Scene
from cutlist.sheets.views import VIEWS, view_scale, view_svg


def drawing_part(plan: Plan, scene: Scene) -> Markup:
    keys = tag(
        "ul",
        tag("li", tag("span", class_="key positive"), "positive: red, unbroken"),
        tag("li", tag("span", class_="key negative"), "negative: black, or yellow on dark; dashed"),
        tag("li", tag("span", class_="key link"), "jumper inside a string: short dashes"),
        class_="keys",
    )
    viewer = tag(
        "div",
        tag(
            "canvas",
            id="view3d",
            tabindex="0",
            role="img",
            aria_label=_viewer_words(scene),
            aria_describedby="view3d-help",
        ),
        tag(
            "p",
            "Drag or arrow keys turn, two fingers or shift with drag move, wheel or + and − zoom, 0 puts back. "
            "Point at a cable to read it, or choose it here: ",
            tag(
                "label",
                "cable ",
                tag(
                    "select",
                    tag("option", "none", value=""),
                    *(tag("option", f"{c.number} {c.name}", value=str(c.number)) for c in scene.cables),
                    id="pick",
                ),
            ),
            tag("label", tag("input", type="checkbox", id="show-solids", checked=True), " solids"),
            tag("label", tag("input", type="checkbox", id="show-clamps", checked=True), " clamps"),
            tag("label", tag("input", type="checkbox", id="show-shortest"), " shortest runs"),
            id="view3d-help",
        ),
        tag("p", "", id="picked", role="status", class_="picked"),
        id="viewer",
        hidden=True,
    )
    views = [
        tag(
            "figure",
            tag(
                "div",
                Markup(view_svg(scene, v, plan.job.units)),
                class_="wide",
                tabindex="0",
                role="region",
                aria_label=v.name,
            ),
            tag("p", "The drawing is wider than the screen: push it sideways.", class_="sideways"),
            tag(
                "figcaption", tag("strong", v.name), f", {v.note}. 1:{view_scale(scene, v)} when printed at full size."
            ),
        )
        for v in VIEWS
    ]
    strips = [
        tag(
            "figure",
            tag("div", Markup(svg), class_="wide", tabindex="0", role="region", aria_label=f"Studs of {words}"),
            tag("figcaption", f"{words}."),
        )
        for words, svg in bar_strips(plan)
    ]
    intro = tag("p", "The studs as one stands before each bus bar, and on them the cables by their numbers.")
    return join(keys, viewer, *views, intro, tag("div", *strips, class_="strips"))


def _viewer_words(scene: Scene) -> str:
    counted = f"{how_many(len(scene.cables), 'cable')} and {how_many(len(scene.solids), 'solid')}"
    return f"3D view of {counted}; the tables below hold the same figures"


def scene_data(plan: Plan, scene: Scene) -> Markup:
    """What the 3D view shows, in whole millimetres, safe inside a script element."""
    units = plan.job.units

    def mm(points: object) -> list[list[int]]:
        return [[round(1000 * float(v)) for v in p] for p in points]  # type: ignore[attr-defined]

    words = {
        c.number: f"{c.number} {c.name}: shortest {metres_text(c.shortest.length_m, units)}, target "
        f"{metres_text(c.target_m, units)}, "
        f"cut {' + '.join(length_text(x.length_um, units, up=True) for x in c.cuts)}, "
        f"bends {bends_text(c, units)}"
        for c in plan.cables
    }
    data = {
        "solids": [
            {
                "name": s.name,
                "kind": s.kind,
                "round": s.round,
                "faces": [[mm(ring) for ring in face] for face in s.faces],
                "lines": None if s.mesh is None else [mm(line) for line in sharp_lines(s.mesh)],
            }
            for s in scene.solids
        ],
        "cables": [
            {
                "number": c.number,
                "pole": c.pole,
                "words": words[c.number],
                "radius": round(1000 * c.radius_m, 1),
                "points": mm(c.points),
                "shortest": mm(c.shortest),
                "clamps": mm(c.clamps),
            }
            for c in scene.cables
        ],
        "marks": [{"name": m.name, "kind": m.kind, "point": mm([m.point])[0]} for m in scene.marks],
        "bounds": mm(scene.bounds()),
    }
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))


def runs_part(plan: Plan) -> Markup:
    units = plan.job.units
    shares = {s.string: s for s in plan.shares}
    lines = [
        (
            c.number,
            join(pole_sign(c.pole), " ", c.name),
            conductor_text(c.conductor),
            metres_text(c.shortest.length_m, units),
            metres_text(c.target_m, units),
            metres_text(c.surplus_m, units),
            " + ".join(length_text(cut.length_um, units, up=True) for cut in c.cuts),
            len(c.laid.curve.bends),
            least_radius_text(c, units),
            len(c.laid.clamps),
            f"{metres_text(c.laid.least_clearance_m, units)}"
            + (f" to {c.laid.least_clearance_to}" if c.laid.least_clearance_to else ""),
            f"{shares[c.string].current_a:.1f}" if c.string in shares else "",
        )
        for c in plan.cables
    ]
    heads = (
        "No.",
        "Cable",
        "Conductor",
        "Shortest run",
        "Target",
        "Surplus",
        "Cut length",
        "Bends",
        "Least radius",
        "Clamps",
        "Least clearance",
        "String A",
    )
    return table(
        "Every run, stud centre to stud centre, in installing order", heads, lines, (0, 3, 4, 5, 6, 7, 8, 9, 11)
    )


def current_part(plan: Plan) -> Markup:
    strings = [
        (
            s.string,
            f"{s.current_a:.2f}",
            f"{100 * s.share:.2f}",
            signed_percent(s.departure, 2),
            f"{s.fuse.rating_a:g} A {s.fuse.family}" if s.fuse else "none",
        )
        for s in plan.shares
    ]
    parts = [
        table(
            "Share of each string",
            ("String", "Current A", "Share %", "From even %", "Fuse"),
            strings,
            (1, 2, 3),
        )
    ]
    for load in plan.loads:
        stages = [(s.stage, f"{1000 * s.drop_v:.1f}") for s in load.stages]
        caption = f"Drop on the way to {load.load}{all_in_text(plan)}"
        parts.append(table(caption, ("Stage", "Drop mV"), stages, (1,)))
        words = (
            f"{load.load}: {load.current_a:g} A at {load.voltage_v:.3f} V; drop {load.drop_v:.3f} V = "
            f"{100 * load.drop:.2f} %. The handbook formula K·I·L/E gives {load.handbook_drop_v:.3f} V."
        )
        parts.append(tag("p", words))
    return join(*parts)


def places_part(plan: Plan) -> Markup:
    if not plan.tried:
        return Markup("")
    units = plan.job.units
    lines = [
        (
            i,
            place_text(t.positive, units),
            place_text(t.negative, units),
            money_text(t.cost),
            metres_text(t.target_m, units) if math.isfinite(t.target_m) else "",
            f"{100 * t.drop:.2f}" if math.isfinite(t.drop) else "",
            t.why_not or "can be built",
        )
        for i, t in enumerate(plan.tried, start=1)
    ]
    heads = ("No.", "Positive bus bar", "Negative bus bar", "Cost", "Target", "Drop %", "State")
    proof = tag("p", proof_text(plan)) if plan.place_proof is not None else Markup("")
    if saving_sentence(plan):
        proof = join(proof, tag("p", saving_sentence(plan)))
    together = plan.place_proof is not None and plan.place_proof.searched
    basis = f"{PLACES_COST}, priced as the bound is" if together else "cable and lugs, as they were priced in sizing"
    states = " with any string out" if plan.job.policy.one_string_out else all_in_text(plan).replace(",", " with")
    tried = table(f"Places tried; cost: {basis}; drop: the worst{states}", heads, lines, (0, 3, 4, 5))
    return join(proof, Markup(face_maps(plan)), _other_places(plan), tried)


def _other_places(plan: Plan) -> Markup:
    found = plan.landscape
    if found is None:
        return Markup("")
    units = plan.job.units
    heads, lines, figures = option_rows(found.options, units)
    parts = [
        table(f"The best different pairs of places, {SPEAKS_OF}. {covers_text(found.options)}", heads, lines, figures)
    ]
    heads, lines, figures = where_rows(found.options, units)
    parts.append(table("Where they are (centre of each row of studs)", heads, lines, figures))
    heads, lines, figures = move_rows(found.moves, units)
    parts.append(table(moved_text(found.moves), heads, lines, figures))
    parts.append(tag("p", step_sentence(found, units)))
    return join(*parts)


def record_part(plan: Plan) -> Markup:
    if not plan.record:
        return Markup("")
    lines = [
        (
            r.item,
            r.quantity,
            f"{r.value:.6g} {r.unit}".strip(),
            r.formula,
            "; ".join(f"{name} = {value:.6g} {unit}".strip() for name, value, unit in r.inputs),
            r.source,
        )
        for r in plan.record
    ]
    heads = ("Item", "Quantity", "Value", "Formula", "With", "Source")
    whole = table("Every calculated figure, so that anybody can do it again", heads, lines, (2,))
    return tag(
        "details", tag("summary", f"{how_many(len(plan.record), 'figure')} with formula, inputs and source"), whole
    )
