"""Limits, policy and colours of a job file."""

from __future__ import annotations

from typing import Any

from cutlist.bank.job import Colours, Limits, Policy
from cutlist.bank.stock import Stock
from cutlist.job.faults import Mark, Page, nearest, shown
from cutlist.job.records import Record
from cutlist.job.units import Unreadable, whole_um

# key in the file: field of the domain object
LIMIT_FIELDS = {
    "drop": "drop",
    "surge drop": "surge_drop",
    "share": "share",
    "support": "support_m",
    "clamp reach": "clamp_reach_m",
    "fuse distance": "fuse_distance_m",
    "longest lead": "longest_lead_m",
    "above bilge": "above_bilge_m",
}
POLICY_FIELDS = {
    "match": "match",
    "clearance": "clearance_m",
    "relief": "relief_m",
    "end allowance": "end_allowance_m",
    "longer": "longer_m",
    "surplus together": "surplus_together",
    "lead conductors": "conductors_lead",
    "jumper conductors": "conductors_jumper",
    "feeder conductors": "conductors_feeder",
    "string fuse": "string_fuse",
    "fuse family": "string_fuse_family",
    "in-line fuse at": "string_fuse_distance_m",
    "like batteries swap": "like_batteries_swap",
    "paralleled": "paralleled",
    "one string out": "one_string_out",
    "dry-fit stop": "dry_fit_stop_m",
    "later strings": "later_strings",
    "lengthen now": "lengthen_now",
    "bars apart": "bars_apart_m",
    "bars on": "bars_on",
    "objective": "objective",
}


def build_limits(record: Record | None) -> Limits | None:
    if record is None or record["drop"] is None:
        return None
    return Limits(**_fields(record, LIMIT_FIELDS))


def build_policy(record: Record | None, stock: Stock | None, page: Page) -> Policy:
    if record is None:
        return Policy()
    fields = _fields(record, POLICY_FIELDS)
    if isinstance(record["later strings"], tuple):
        fields["later_strings"] = len(record["later strings"])
    elif record["lengthen now"]:
        message = "how long leads must be for later strings is not known: where these will end is not said"
        page.fault(record.at("lengthen now"), message, "name them: later strings: [{name: D, positive: ..., ...}]")
    if record["round up"] is not None:
        try:
            fields["round_up_um"] = whole_um(record["round up"])
        except Unreadable as fault:
            page.fault(record.at("round up"), fault.message, fault.mend)
    if stock is not None:
        _names_in_stock(record, stock, page)
    if record["string fuse"] == "in line" and record["in-line fuse at"] is None:
        mend = "add in-line fuse at: 150 mm"
        page.fault(record.at("string fuse"), "an in-line fuse needs its distance along the lead", mend)
    return Policy(**fields)


def build_colours(record: Record | None) -> Colours:
    if record is None:
        return Colours()
    positive = record.get("positive", "red")
    return Colours(positive, record.get("negative", "black"), record.get("link", positive))


def colour_faults(colours: Colours, jumpers: bool, stock: Stock, mark: Mark, page: Page) -> None:
    """Every colour the bank needs can be had of some conductor."""
    if stock.rules.other_colour_allowed:
        return
    known = sorted({cable.colour for cable in stock.cables})
    needed = {colours.positive: "positive cables", colours.negative: "negative cables"}
    if jumpers:
        needed.setdefault(colours.link, "jumpers")
    for colour, what in needed.items():
        if colour not in known:
            there = ", ".join(shown(name) for name in known[:8])
            message = f"{what} are {shown(colour)}, and the stock file has no cable of that colour"
            page.fault(mark, message, f"colours in stock: {there}; choose one, or add {shown(colour)} there")


def _names_in_stock(record: Record, stock: Stock, page: Page) -> None:
    known = {conductor.name for conductor in stock.conductors}
    for key in ("lead conductors", "jumper conductors", "feeder conductors"):
        for name in record.get(key, ()):
            if name not in known:
                message = f"there is no conductor {shown(name)} in the stock file"
                page.fault(record.at(key), message, nearest(name, known, "conductors"))
    family, families = record["fuse family"], {fuse.family for fuse in stock.fuses}
    if family is not None and family not in families and record["string fuse"] != "none":
        message = f"there is no fuse of family {shown(family)} in the stock file"
        page.fault(record.at("fuse family"), message, nearest(family, families, "families"))


def _fields(record: Record, names: dict[str, str]) -> dict[str, Any]:
    fields = {}
    for key, field in names.items():
        value = record[key]
        if value is not None:
            # lengths and shares were read exactly; the domain holds floats
            plain = isinstance(value, (bool, int, str, tuple))
            fields[field] = value if plain else float(value)
    return fields
