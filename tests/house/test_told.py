"""Every number that goes into JSON has its unit, on the field of its noun."""

from __future__ import annotations

import typing
from collections.abc import Iterator
from typing import Any

import attrs
import numpy as np
import pytest

from evpack.outcome import (
    ageing,
    commissioning,
    design,
    draws,
    identified,
    matching,
    operation,
    runs,
    search,
)
from evpack.show.to_json import to_json

ROOTS = (
    ageing.Ageing,
    commissioning.AsBuiltCheck,
    commissioning.CommissioningPlan,
    design.Design,
    draws.Draws,
    runs.FaultRun,
    identified.IdentifiedCell,
    matching.Matching,
    operation.OperationRun,
    operation.OutageRun,
    search.Grown,
    search.Ranking,
    search.TradeOff,
    search.WaysOut,
    runs.SharingRun,
    runs.SettingsTrial,
)
# Plain numbers whose unit stands elsewhere, and where.
ELSEWHERE = {
    **{("Finding", name): "unit, beside them" for name in ("value", "limit", "margin", "guarded")},
    **{("DrawnMargin", name): "unit, beside them" for name in ("low", "middle", "high")},
    **{("DrawnNumber", name): "unit, beside them" for name in ("low", "middle", "high", "stated")},
    **{("CommissioningStep", name): "that of its kind" for name in ("low", "high")},
    ("Proof", "written"): "that of the kind of its step",
    **{("Outgrown", name): "its field `unit`" for name in ("now", "then")},
    ("Outcome", "cycles"): "a count",
}


def parts(hint: Any) -> Iterator[Any]:
    """Return the classes in an annotation."""
    inner = typing.get_args(hint)
    if typing.get_origin(hint) is np.ndarray:
        yield np.ndarray
    elif inner:
        for part in inner:
            yield from parts(part)
    else:
        yield hint


def reached(kind: type, known: set[type]) -> set[type]:
    """Return the nouns of `outcome` that are told with one."""
    if kind not in known:
        known.add(kind)
        hints = typing.get_type_hints(kind)
        for field in attrs.fields(kind):
            for part in () if field.metadata.get("inner") else parts(hints[field.name]):
                if attrs.has(part) and part.__module__.startswith("evpack.outcome"):
                    reached(part, known)
    return known


def plain_numbers() -> list[tuple[type, attrs.Attribute[Any]]]:
    known: set[type] = set()
    for root in ROOTS:
        reached(root, known)
    return [
        (kind, field)
        for kind in sorted(known, key=lambda kind: kind.__name__)
        for field in attrs.fields(kind)
        if {float, np.ndarray} & set(parts(typing.get_type_hints(kind)[field.name]))
        and not field.metadata.get("inner")
    ]


@pytest.mark.parametrize(
    ("kind", "field"),
    plain_numbers(),
    ids=lambda one: one.__name__ if isinstance(one, type) else one.name,
)
def test_a_plain_number_says_its_unit(kind: type, field: attrs.Attribute[Any]) -> None:
    elsewhere = (kind.__name__, field.name) in ELSEWHERE
    assert (field.metadata.get("unit") is not None) is not elsewhere


def test_what_is_no_noun_is_refused() -> None:
    with pytest.raises(TypeError, match="object is nothing that evpack tells"):
        to_json(object())
