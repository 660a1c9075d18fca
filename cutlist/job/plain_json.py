"""What plan.json and cuts.json hold becomes our own values again, by the fields of their types.

Figures that follow from others are left aside, so that what is read is only what was written as a fact.
"""

from __future__ import annotations

import dataclasses
import types
import typing
from decimal import Decimal, InvalidOperation
from functools import cache
from typing import Any


class Wrong(ValueError):
    """The document does not hold what is wanted: where, and what."""

    def __init__(self, where: str, message: str) -> None:
        super().__init__(f"{where}: {message}")
        self.where = where
        self.message = message


def built(hint: Any, value: Any, where: str) -> Any:
    """The value as the type says. Raises Wrong, with the place in the document, where it is something else."""
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        if value is None and type(None) in arguments:
            return None
        return built(next(a for a in arguments if a is not type(None)), value, where)
    if origin is tuple:
        return _row(arguments, value, where)
    if dataclasses.is_dataclass(hint):
        return _record(hint, value, where)
    if hint is Decimal:
        return _money(value, where)
    if hint is float and isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    if hint in (str, int, bool) and type(value) is hint:
        return value
    names = {str: "text", int: "a whole number", bool: "true or false", float: "a number"}
    raise Wrong(where, f"{names.get(hint, 'something else')} is wanted")


def _row(arguments: tuple[Any, ...], value: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list):
        raise Wrong(where, "a list is wanted")
    if arguments[-1] is Ellipsis:
        return tuple(built(arguments[0], item, f"{where}[{i}]") for i, item in enumerate(value))
    if len(value) != len(arguments):
        raise Wrong(where, f"{len(arguments)} values are wanted")
    return tuple(built(a, item, f"{where}[{i}]") for i, (a, item) in enumerate(zip(arguments, value, strict=True)))


def _record(kind: Any, value: Any, where: str) -> Any:
    if not isinstance(value, dict):
        raise Wrong(where, "an object is wanted")
    found = {}
    for field in dataclasses.fields(kind):
        if field.name in value:
            found[field.name] = built(_hints(kind)[field.name], value[field.name], f"{where}.{field.name}".lstrip("."))
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            raise Wrong(where or "the document", f'"{field.name}" is missing')
    return kind(**found)


def _money(value: Any, where: str) -> Decimal:
    try:
        amount = Decimal(value) if isinstance(value, str) else Decimal("nan")
    except InvalidOperation:
        amount = Decimal("nan")
    if not amount.is_finite():
        raise Wrong(where, "an amount of money, as text, is wanted")
    return amount


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return typing.get_type_hints(kind)
