"""A stock file becomes stock."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from decimal import Decimal
from fractions import Fraction

from cutlist.bank.cables import Conductor, Fuse, HeatShrink, Lug, Sundry
from cutlist.bank.stock import ByLength, CableStock, CuttingRules, Remnant, Spool, Stock
from cutlist.electrics.conductors import conductor_data, known_sizes, typical_bend_multiple
from cutlist.job.faults import Page, nearest, shown
from cutlist.job.records import Record, unique


def build_stock(record: Record, page: Page) -> Stock | None:
    """None, with the faults on the page, if anything in it is not sound.

    Where the conductors are left out (only a list for cutting may do so), cables are known by their names alone.
    """
    before = len(page.faults)
    sizes = [_named_by_size(item) for item in record.get("conductors", ())]
    conductors = unique(tuple(sizes), "conductor", page)
    made = [made for name, item in conductors.items() if (made := _conductor(name, item, page)) is not None]
    cables = _cables(record, conductors.keys(), page)
    named = conductors.keys() if "conductors" in record.marks else {c.conductor for c in cables}
    lugs = _lugs(record, named, page)
    shrink = tuple(_heat_shrink(item, page) for item in record.get("heat shrink", ()) if item.sound)
    fuses = tuple(_fuse(item) for item in record.get("fuses", ()) if item.sound)
    sundries = tuple(_sundry(item) for item in record.get("sundries", ()) if item.sound)
    unique(record.get("sundries", ()), "sundry", page)
    priced = next(_prices(record), None)
    if priced is not None and record["currency"] is None and "currency" not in record.marks:
        page.fault(priced.at("price"), "there are prices, but no currency", "add at the top of the file: currency: kr")
    if not record.sound or len(page.faults) > before:
        return None
    return Stock(
        record.get("currency", ""),
        tuple(made),
        cables,
        lugs,
        shrink,
        fuses,
        sundries,
        _rules(record["cutting"], tuple(conductors.items()), page),
    )


def _named_by_size(item: Record) -> Record:
    if item["name"] is not None or item["size"] is None:
        return item
    marks = {**item.marks, "name": item.at("size")}
    return Record({**item.values, "name": item["size"]}, marks, item.mark, item.sound)


def _conductor(name: str, item: Record, page: Page) -> Conductor | None:
    if not item.sound:
        return None
    try:
        data = conductor_data(item["size"], strands=item.get("strands", ""), tinned=bool(item["tinned"]))
    except (ValueError, LookupError) as fault:
        key = "strands" if "strands" in str(fault) else "size"
        page.fault(item.at(key), str(fault).strip("'\""), f"sizes in the tables: {', '.join(known_sizes())}")
        return None
    diameter = item["outside diameter"]
    kind, value = item.get("bend radius", ("diameters", Fraction(typical_bend_multiple()[0])))
    inside = value * diameter if kind == "diameters" else value
    ohm_per_m = item["resistance"]
    bare = 2 * (data.area_mm2 / 3.1416) ** 0.5 / 1000
    if float(diameter) < bare:
        page.fault(
            item.at("outside diameter"),
            f"{float(diameter) * 1000:g} mm is thinner than the bare copper of {item['size']}, {bare * 1000:.1f} mm",
            "give the diameter over the insulation",
        )
    return Conductor(
        name=name,
        size=data.size,
        area_mm2=data.area_mm2,
        ohm_per_km_20c=data.ohm_per_km_20c if ohm_per_m is None else float(ohm_per_m * 1000),
        ohm_source=data.source if ohm_per_m is None else item.get("source", "stock file"),
        outside_diameter_m=float(diameter),
        # bend radii are given to the inside of the bend; ours is of the centreline
        bend_radius_m=float(inside + diameter / 2),
        insulation_c=float(item["insulation"]),
        tinned=bool(item["tinned"]),
        strands=data.strands,
    )


def _cables(record: Record, conductors: Collection[str], page: Page) -> tuple[CableStock, ...]:
    any_name = "conductors" not in record.marks
    made: dict[tuple[str, str], CableStock] = {}
    for item in record.get("cable", ()):
        if not item.sound or not (any_name or _known(item, conductors, page)):
            continue
        key = (item["conductor"], item["colour"])
        if key in made:
            page.fault(item.mark, f"{key[1]} {key[0]} stands here a second time", "put its spools under the first")
            continue
        made[key] = CableStock(
            *key,
            tuple(
                Remnant(r["label"], _whole_um(r, "length", page), r.get("book value", Decimal(0)))
                for r in item.get("remnants", ())
                if r.sound
            ),
            tuple(_spool(s, page) for s in item.get("spools", ()) if s.sound),
            tuple(_by_length(b, page) for b in item.get("by length", ()) if b.sound),
        )
        labels = [*item.get("remnants", ()), *item.get("spools", ()), *item.get("by length", ())]
        unique(tuple(labels), "spool", page, key="label")
    return tuple(made.values())


def _spool(item: Record, page: Page) -> Spool:
    breaks = tuple(sorted((b["from"], b["price"]) for b in item.get("price breaks", ()) if b.sound))
    return Spool(item["label"], _whole_um(item, "length", page), item["price"], item["available"], breaks)


def _by_length(item: Record, page: Page) -> ByLength:
    longest = None if item["longest"] is None else _whole_um(item, "longest", page)
    least = _whole_um(item, "least", page, up=True)
    if longest is not None and longest < least:
        page.fault(item.at("longest"), "the longest length sold is below the shortest", "look whether they are swapped")
    return ByLength(item["label"], _whole_um(item, "increment", page, exact=True), item["price"], least, longest)


def _lugs(record: Record, conductors: Collection[str], page: Page) -> tuple[Lug, ...]:
    made: dict[tuple[str, str], Lug] = {}
    for item in record.get("lugs", ()):
        if not item.sound or not _known(item, conductors, page):
            continue
        key = (item["conductor"], item["stud"])
        if key in made:
            page.fault(item.mark, f"lug {key[0]} x {key[1]} stands here a second time", "keep one of them")
            continue
        stop, skin = float(item["hole to stop"]), float(item["hole to skin"])
        if skin < stop:
            page.fault(
                item.at("hole to skin"), "the insulation would begin inside the barrel", "hole to skin is the longer"
            )
        made[key] = Lug(
            *key, float(item["strip"]), stop, skin, item["price"], item.get("pack", 1), item.get("on hand", 0)
        )
    return tuple(made.values())


def _known(item: Record, conductors: Collection[str], page: Page) -> bool:
    name = item["conductor"]
    if name in conductors:
        return True
    if not conductors:
        return False  # that there are none is reported already
    page.fault(item.at("conductor"), f"there is no conductor {shown(name)}", nearest(name, conductors, "conductors"))
    return False


def _heat_shrink(item: Record, page: Page) -> HeatShrink:
    figures = [float(item[key]) for key in ("fits from", "fits to", "per end", "length")]
    if figures[0] >= figures[1]:
        page.fault(item.at("fits to"), "fits to is not above fits from", "look whether they are swapped")
    fits_from_m, fits_to_m, per_end_m, length_m = figures
    colour = item.get("colour", "black")
    return HeatShrink(item["name"], fits_from_m, fits_to_m, per_end_m, length_m, item["price"], colour)


def _fuse(item: Record) -> Fuse:
    interrupt, resistance, let_through = (
        None if item[key] is None else float(item[key]) for key in ("interrupt", "resistance", "let-through")
    )
    return Fuse(
        family=item["family"],
        rating_a=float(item["rating"]),
        voltage_v=float(item["voltage"]),
        interrupt_a=interrupt,
        resistance_ohm=resistance,
        stud=item["stud"],
        i2t_a2s=let_through,
        price=item["price"],
        on_hand=item.get("on hand", 0),
        source=item.get("source", "stock file"),
    )


def _sundry(item: Record) -> Sundry:
    fits = (float(item.get("fits from", 0)), float(item.get("fits to", 0)))
    return Sundry(item["name"], item["kind"], *fits, item["price"], item.get("pack", 1), item.get("on hand", 0))


def _rules(item: Record | None, conductors: tuple[tuple[str, Record], ...], page: Page) -> CuttingRules:
    worth = tuple((name, c["kept value per metre"]) for name, c in conductors if c["kept value per metre"] is not None)
    if item is None:
        return CuttingRules(kept_value_by_conductor=worth)
    return CuttingRules(
        kerf_um=_whole_um(item, "kerf", page, up=True),
        end_trim_um=_whole_um(item, "end trim", page, up=True),
        keep_above_um=None if item["keep above"] is None else _whole_um(item, "keep above", page),
        kept_value_per_m=item.get("kept value per metre", Decimal(0)),
        kept_value_by_conductor=worth,
        least_waste=bool(item["least waste"]),
        larger_conductor_allowed=bool(item["larger conductor"]),
        other_colour_allowed=bool(item["other colour"]),
    )


def _whole_um(item: Record, key: str, page: Page, exact: bool = False, up: bool = False) -> int:
    """Whole micrometres: down, since what is on hand is never more than it is; `up` for what is lost."""
    um = item.get(key, Fraction(0)) * 1_000_000
    if exact and um.denominator != 1:
        page.fault(item.at(key), "this is not a whole number of micrometres", "use whole millimetres, inches or feet")
    return math.ceil(um) if up else math.floor(um)


def _prices(record: Record) -> Iterator[Record]:
    """Every record in the file that has a price."""
    if record["price"] is not None:
        yield record
    for value in record.values.values():
        if isinstance(value, Record):
            yield from _prices(value)
        elif isinstance(value, tuple):
            for item in value:
                if isinstance(item, Record):
                    yield from _prices(item)
