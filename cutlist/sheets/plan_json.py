"""The plan as one JSON document, and the JSON Schema of that document.

Both follow from the fields of the plan's own types, so they cannot drift apart: a field's name carries its unit, money
is text with all its digits, a thing that stands elsewhere in the document is named instead of repeated. Keys come in
the order in which the types declare them; the same plan gives the same text.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
import types
import typing
from decimal import Decimal
from functools import cache
from typing import Any

import numpy as np

from cutlist.bank.batteries import String
from cutlist.findings import Finding
from cutlist.place_types import PlaceProof
from cutlist.plan_types import Plan, PlannedCable
from cutlist.stock.alternates import Alternate
from cutlist.stock.cut_list import CutList
from cutlist.stock.cut_plan import Cut as SpoolCut
from cutlist.stock.cut_plan import CutPlan, GroupResult
from cutlist.stock.later_leads import LaterLeads
from cutlist.stock.order import Order
from geometry.curve import Arc, Curve, Straight
from geometry.meshes import Mesh
from geometry.outlines import Circle
from geometry.runs import Run
from geometry.solids import Box, Cylinder, Prism, Solid

FORMAT = "evenlead plan 1"
CUTS_FORMAT = "evenlead cuts 1"

# Figures that follow from the fields and that readers of the document should not have to work out.
DERIVED: dict[type, tuple[str, ...]] = {
    PlannedCable: ("surplus_m",),
    Run: ("length_m", "gap"),
    Curve: ("length_m",),
    Finding: ("margin",),
    PlaceProof: ("gap",),
    CutPlan: (
        "missing_prices",
        "spent",
        "kept_value",
        "cost",
        "least_cost",
        "gap",
        "proved",
        "bought_um",
        "cut_um",
        "kept_um",
        "waste_um",
    ),
    GroupResult: ("gap", "proved"),
    Order: ("total", "complete"),
}
# Written as names: the whole thing stands under "job" or "stock".
BY_NAME = {(String, "batteries"), (PlannedCable, "conductor")}
# Left out: solver's working, checked before printing.
OMITTED = {(GroupResult, "certificate")}
# Arrays with three figures a row; any other array is one such row.
TRIPLES: dict[tuple[type, str], str] = {(Mesh, "corners"): "number", (Mesh, "triangles"): "integer"}
# Told apart by "shape", because any of them may stand in one place.
SHAPES: dict[type, str] = {
    Straight: "straight",
    Arc: "arc",
    Box: "box",
    Prism: "prism",
    Cylinder: "cylinder",
    Mesh: "mesh",
    Circle: "circle",
}
# The planned cable's cut and the spool's cut are both called Cut where they live.
RENAMED: dict[type, str] = {SpoolCut: "SpoolCut"}
SOLIDS = (Box, Prism, Cylinder, Mesh)


def plan_dict(plan: Plan) -> dict[str, Any]:
    """The whole plan in plain JSON types: objects, lists, text, numbers, true, false, null.

    Floats keep 12 significant digits; an unbounded figure (infinity) is null.
    """
    return {"format": FORMAT, **_object(plan)}


def plan_text(plan: Plan) -> str:
    """The document as written to plan.json: indented, with lists of plain values on one line."""
    return _layout(plan_dict(plan), "") + "\n"


def cuts_text(cuts: CutList) -> str:
    """The document as written to cuts.json."""
    return _layout({"format": CUTS_FORMAT, **_object(cuts)}, "") + "\n"


def plan_mark(plan: Plan) -> str:
    """Eight characters that tell papers of one plan from papers of another: printed on every sheet."""
    return mark_of(plan_text(plan))


def mark_of(text: str) -> str:
    """The mark of the plan that reads so in plan.json."""
    return hashlib.sha256(text.encode()).hexdigest()[:8]


def plan_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of plan.json."""
    definitions: dict[str, Any] = {}
    root = _object_schema(Plan, definitions)
    root["properties"] = {"format": {"const": FORMAT}, **root["properties"]}
    root["required"] = ["format", *root["required"]]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "evenlead plan",
        "description": "Every figure that any sheet prints. Lengths in metres (_m) or micrometres (_um), angles in "
        "degrees (_deg) or radians (_rad), money as text in the currency of the stock.",
        **root,
        "$defs": dict(sorted(definitions.items())),
    }


def _object(item: Any) -> dict[str, Any]:
    kind = type(item)
    found: dict[str, Any] = {"shape": SHAPES[kind]} if kind in SHAPES else {}
    for field in dataclasses.fields(item):
        if (kind, field.name) in OMITTED:
            continue
        value = getattr(item, field.name)
        if (kind, field.name) in BY_NAME:
            found[field.name] = [x.name for x in value] if isinstance(value, tuple) else value.name
        else:
            found[field.name] = _plain(value)
    for name in DERIVED.get(kind, ()):
        found[name] = _plain(getattr(item, name))
    return found


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float | np.floating):
        return float(f"{value:.12g}") + 0.0 if math.isfinite(value) else None
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, np.ndarray):
        return [_plain(x) for x in value.tolist()]
    if isinstance(value, tuple | list):
        return [_plain(x) for x in value]
    if isinstance(value, dict):
        return {name: _plain(x) for name, x in value.items()}
    if dataclasses.is_dataclass(value):
        return _object(value)
    raise TypeError(f"a plan holds no {type(value).__name__}")


# one encoder for all: json.dumps makes a new one for each of some ten thousand values
_encoded = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


def _layout(value: Any, indent: str) -> str:
    deeper = indent + " "
    if isinstance(value, dict) and value:
        lines = [f"{deeper}{_encoded(k)}: {_layout(v, deeper)}" for k, v in value.items()]
        return "{\n" + ",\n".join(lines) + f"\n{indent}}}"
    if isinstance(value, list) and any(isinstance(x, dict | list) for x in value):
        return "[\n" + ",\n".join(deeper + _layout(x, deeper) for x in value) + f"\n{indent}]"
    return _encoded(value)


def _object_schema(kind: type, definitions: dict[str, Any]) -> dict[str, Any]:
    properties: dict[str, Any] = {"shape": {"const": SHAPES[kind]}} if kind in SHAPES else {}
    hints = _hints(kind)
    for field in dataclasses.fields(kind):
        if (kind, field.name) in OMITTED:
            continue
        if (kind, field.name) in BY_NAME:
            named = {"type": "string"}
            many = typing.get_origin(hints[field.name]) is tuple
            properties[field.name] = {"type": "array", "items": named} if many else named
        elif (kind, field.name) in TRIPLES:
            three = {"type": "array", "items": {"type": TRIPLES[kind, field.name]}, "minItems": 3, "maxItems": 3}
            properties[field.name] = {"type": "array", "items": three}
        else:
            properties[field.name] = _schema_of(hints[field.name], definitions)
    for name in DERIVED.get(kind, ()):
        properties[name] = _schema_of(_returned(kind, name), definitions)
    schema = {"type": "object", "properties": properties, "required": list(properties), "additionalProperties": False}
    meaning = (kind.__doc__ or "").split("\n")[0]
    # a dataclass without a docstring of its own gets its signature as one
    return schema if not meaning or meaning.startswith(f"{kind.__name__}(") else {"description": meaning, **schema}


def _schema_of(hint: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    plain = {str: "string", int: "integer", bool: "boolean"}
    if hint in plain:
        return {"type": plain[hint]}
    if hint is float:
        # an unbounded figure is null
        return {"type": ["number", "null"]}
    if hint is type(None):
        return {"type": "null"}
    if hint is Decimal:
        return {"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]+)?(E[+-]?[0-9]+)?$"}
    if hint is Solid:
        return {"anyOf": [_schema_of(kind, definitions) for kind in SOLIDS]}
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        return {"anyOf": [_schema_of(x, definitions) for x in arguments]}
    if origin is tuple:
        if arguments[-1] is Ellipsis:
            return {"type": "array", "items": _schema_of(arguments[0], definitions)}
        items = [_schema_of(x, definitions) for x in arguments]
        return {"type": "array", "prefixItems": items, "minItems": len(items), "maxItems": len(items)}
    if origin is dict:
        return {"type": "object", "additionalProperties": _schema_of(arguments[1], definitions)}
    if origin is np.ndarray:
        return {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}
    if dataclasses.is_dataclass(hint):
        kind = typing.cast(type, hint)
        name = RENAMED.get(kind, kind.__name__)
        if name not in definitions:
            definitions[name] = {}  # taken, so that a type that holds itself ends
            definitions[name] = _object_schema(kind, definitions)
        return {"$ref": f"#/$defs/{name}"}
    raise TypeError(f"no schema for {hint!r}")


@cache
def _hints(kind: type) -> dict[str, Any]:
    # plan_types names these only for the type checker
    return typing.get_type_hints(
        kind, localns={"Alternate": Alternate, "CutPlan": CutPlan, "LaterLeads": LaterLeads, "Order": Order}
    )


def _returned(kind: type, name: str) -> Any:
    member = getattr(kind, name)
    function = getattr(member, "fget", None) or member.func
    return typing.get_type_hints(function)["return"]
