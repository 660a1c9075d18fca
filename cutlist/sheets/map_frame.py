"""What stands round a map of a mounting face, so that it can be read by itself: title, scale, shades, bilge line."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from html import escape

from cutlist.bank.job import Job
from cutlist.bank.site import MountingFace
from cutlist.sheets.lengths import metres_text

LETTER = 0.6  # width of a letter of the fixed-width face, as a share of its size
SCALE_MM = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000)
SCALE_IN = (("1 in", 25.4), ("3 in", 76.2), ("6 in", 152.4), ("1 ft", 304.8), ("2 ft", 609.6), ("5 ft", 1524.0))
SHADES = (0.15, 0.3375, 0.525, 0.7125, 0.9)


def title_lines(lines: Sequence[str], left: float, wide: float, text: float) -> tuple[str, float]:
    """The lines over the map, broken to its width, the first in bold; and how much room they take above it."""
    fits = max(12, int(wide / (LETTER * text)))
    broken = [(part, k == 0) for k, line in enumerate(lines) for part in textwrap.wrap(line, fits)]
    high = 1.35 * text * len(broken)
    parts = [
        f'<text class="{"title" if bold else "note"}" x="{left:.1f}" '
        f'y="{-0.9 * text - high + 1.35 * text * (k + 1):.1f}">{escape(part)}</text>'
        for k, (part, bold) in enumerate(broken)
    ]
    return "".join(parts), high + 0.9 * text


def scale_bar(left: float, top: float, wide: float, text: float, units: str) -> str:
    """A bar of a round length, about a quarter of the map, and that length."""
    kinds = SCALE_IN if units == "in" else tuple((f"{mm} mm", float(mm)) for mm in SCALE_MM)
    words, length = next((k for k in reversed(kinds) if k[1] <= wide / 3), kinds[0])
    half = 0.35 * text
    return (
        f'<g class="scale"><path d="M{left:.1f} {top:.1f}h{length:.1f}M{left:.1f} {top - half:.1f}v{2 * half:.1f}'
        f'm{length:.1f} 0v{-2 * half:.1f}"/>'
        f'<text x="{left:.1f}" y="{top + 1.5 * text:.1f}">{words}</text></g>'
    )


def shade_bar(right: float, top: float, text: float, ends: Sequence[str]) -> str:
    """From pale to dark with the values that they stand for; nothing where no value is known."""
    if not ends:
        return ""
    side = 0.8 * text
    words = ends[0] if ends[0] == ends[-1] else f"{ends[0]} to {ends[-1]}"
    shades = SHADES[:1] if ends[0] == ends[-1] else SHADES
    left = right - max(len(words) * LETTER * text, len(shades) * side)
    boxes = "".join(
        f'<rect x="{left + k * side:.1f}" y="{top - side / 2:.1f}" width="{side:.1f}" height="{side:.1f}" '
        f'opacity="{shade:.2f}"/>'
        for k, shade in enumerate(shades)
    )
    return f'<g class="shades">{boxes}<text x="{left:.1f}" y="{top + 1.5 * text:.1f}">{escape(words)}</text></g>'


def bilge_lines(job: Job, face: MountingFace, text: float) -> str:
    """Where bilge water may stand, and what studs keep above it, as lines across the face."""
    parts = []
    for z_m, words in _levels(job):
        ends = _level_on(face, z_m)
        if ends is not None:
            (x0, y0), (x1, y1) = sorted(ends)
            parts.append(
                f'<g class="bilge"><path d="M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}"/>'
                f'<text x="{x0 + 0.4 * text:.1f}" y="{y0 - 0.4 * text:.1f}">{words}</text></g>'
            )
    return "".join(parts)


def bilge_words(job: Job, face: MountingFace) -> str:
    """The same where the line does not cross the face; "" where it does, or the site has none."""
    if job.site.bilge_z_m is None or _level_on(face, job.site.bilge_z_m) is not None:
        return ""
    heights = [
        face.origin[2] + a * face.u[2] + b * face.v[2] for a in (0.0, face.width_m) for b in (0.0, face.height_m)
    ]
    over_m = min(heights) - job.site.bilge_z_m
    if over_m >= 0:
        return f"bilge line {metres_text(over_m, job.units)} below its lowest edge"
    return f"bilge line {metres_text(job.site.bilge_z_m - max(heights), job.units)} above its highest edge"


def _levels(job: Job) -> list[tuple[float, str]]:
    bilge_m = job.site.bilge_z_m
    if bilge_m is None:
        return []
    levels = [(bilge_m, "bilge line")]
    if job.limits.above_bilge_m > 0:
        levels.append((bilge_m + job.limits.above_bilge_m, "lowest for studs"))
    return levels


def _level_on(face: MountingFace, z_m: float) -> list[tuple[float, float]] | None:
    """Both ends, on the map in mm, of the level line of this height across the face's rectangle; None: it has none."""
    rise_u, rise_v, left_m = face.u[2], face.v[2], z_m - face.origin[2]
    found = set()
    if abs(rise_v) > 1e-6:
        found |= {(a, (left_m - a * rise_u) / rise_v) for a in (0.0, face.width_m)}
    if abs(rise_u) > 1e-6:
        found |= {((left_m - b * rise_v) / rise_u, b) for b in (0.0, face.height_m)}
    within = sorted(
        (round(1000 * (face.width_m - a), 3), round(1000 * (face.height_m - b), 3))
        for a, b in found
        if -1e-9 <= a <= face.width_m + 1e-9 and -1e-9 <= b <= face.height_m + 1e-9
    )
    return [within[0], within[-1]] if len(within) > 1 and within[0] != within[-1] else None
