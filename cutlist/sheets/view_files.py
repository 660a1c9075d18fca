"""Plan and elevations as SVG files of their own, for other drawing programs: styles inside, colours fixed."""

from __future__ import annotations

import re
from importlib import resources

from cutlist.plan_types import Plan
from cutlist.sheets.scene import scene_of
from cutlist.sheets.views import VIEWS, view_svg

# for paper: the page's own names for colours, as drawing programs need them spelt out
INK = {
    "paper": "#ffffff",
    "ink": "#1b1b1a",
    "soft": "#55534c",
    "rule": "#b9b5a8",
    "positive": "#b3141b",
    "negative": "#111111",
    "link": "#7a4a00",
    "solid": "#8b8776",
    "battery": "#4a6a86",
    "zone": "#b35c14",
    "bad": "#9c0f16",
}


def view_files(plan: Plan) -> dict[str, str]:
    """SVG text by file name. The same plan gives the same text."""
    scene = scene_of(plan)
    files = {}
    for view in VIEWS:
        whole = view_svg(scene, view, plan.job.units)
        name = view.name.lower().replace(" ", "-")
        files[f"{name}.svg"] = with_style(whole)
    return files


def with_style(svg: str) -> str:
    """A picture of the page as a file of its own."""
    style = resources.files("cutlist.sheets").joinpath("views.css").read_text(encoding="utf-8")
    style = re.sub(r"var\(--([a-z]+)\)", lambda name: INK[name[1]], style)
    opening, rest = svg.split(">", 1)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{opening}><style>{style}</style>{rest}\n'
