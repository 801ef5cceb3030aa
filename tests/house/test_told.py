"""Every field that a person states is told, and every number in JSON has its unit: on the noun."""

from __future__ import annotations

import typing
from collections.abc import Iterator
from typing import Any

import attrs
import numpy as np
import pytest
from attrs.converters import optional

from evpack.base.basis import bases
from evpack.base.told import told
from evpack.base.units import Quantity, watts
from evpack.decide import decide
from evpack.describe.batch import Batch
from evpack.describe.build import Build
from evpack.describe.checked import checked
from evpack.describe.inverter import Inverter
from evpack.describe.scatter import Scatter
from evpack.design import design
from evpack.load.library import example
from evpack.load.sheet import read_sheet
from evpack.outcome import (
    ageing,
    commissioning,
    draws,
    identified,
    matching,
    operation,
    runs,
    search,
)
from evpack.outcome.design import Design
from evpack.show.facts import facts
from evpack.show.html import as_html
from evpack.show.text import as_text, decision_text
from evpack.show.to_json import to_json

ROOTS = (
    ageing.Ageing,
    commissioning.AsBuiltCheck,
    commissioning.CommissioningPlan,
    Design,
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
    ("Price", "amount"): "its currency, for a kWh",
    **{("Measure", name): "its field `unit`" for name in ("accept", "retest")},
}
# What no row is named after, and where it is told.
NO_ROW = {
    **{("*", name): "the title" for name in ("name", "title", "key")},
    ("*", "basis"): "beside each value",
    ("*", "note"): "under the rows",
    ("*", "invented"): "on every page",
    **{("Build", field.name): "nouns of its own" for field in attrs.fields(Build)},
    **{("*", part): "nouns of its own" for part in ("module", "limits", "targets", "measures")},
    **{(kind, "cells_in_parallel"): "beside those in series" for kind in ("Module", "Batch")},
    ("Array", "in_parallel"): "beside those in series",
    ("Batch", "sheet"): "the text that all the rest was read from",
    ("Batch", "strings"): "beside those in series",
    **{
        ("Module", f"resistance_{how}"): "the note of the resistance"
        for how in ("method", "temperature", "soc")
    },
    ("Busbar", "thickness"): "beside its width",
    ("Busbar", "count"): "beside its width",
    **{("Busbar", name): "the note of what it carries" for name in ("conditions", "source")},
    **{
        ("Conductor", name): "a note of what it is about"
        for name in ("resistance_source", "ampacity_source", "conditions")
    },
    ("Conductor", "size"): "the title",
    ("Conductor", "plain"): "the same ampacity for thinner insulation, of a table",
    ("Run", "left_open"): "beside its size",
    ("Run", "alternatives"): "the sizes of a table, not stated",
    ("Run", "conditions"): "what its conductor was looked up under: told with the conductor",
    ("Chemistry", "kindred"): "the band of the usable energy",
    ("Chemistry", "confidence"): "the note of its source",
    ("Chemistry", "why_refused"): "the note of what is refused",
    **{(kind, "*"): "a curve: told by its source" for kind in ("OcvCurve", "ResistanceCurve")},
    **{(kind, "*"): "one value of its noun" for kind in ("VoltageRange", "CurrentRange", "Price")},
    ("FuseFamily", "poles"): "beside its voltage",
    ("FuseFamily", "confirmed"): "its findings say so",
    ("Disconnect", "behind"): "in the label of what it withstands",
    ("Profile", "*"): "rows worked out of its values",
    **{("PricedHours", name): "the title" for name in ("start", "end")},
    ("Sun", "on"): "the title",
    ("Outage", "day"): "the title",
    ("Rest", "date"): "the title",
    **{("Measure", name): "beside its bounds" for name in ("says", "unit")},
}
# What JSON leaves out, and why.
NOT_IN_JSON = {
    **{(kind, "sheet"): "the text that all the rest was read from" for kind in ("Build", "Batch")},
    ("Run", "alternatives"): "the sizes of a table, not stated",
    ("Run", "conditions"): "told with the conductor",
    ("Chemistry", "kindred"): "the band of the usable energy",
    ("Profile", "values"): "as long as a year by minutes; its file holds them",
}
STATED = (Build, Batch, Scatter)


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


def reached(kind: type, known: set[type], room: str) -> set[type]:
    """Return the nouns of a room that are told with one."""
    if kind not in known:
        known.add(kind)
        hints = typing.get_type_hints(kind)
        for field in attrs.fields(kind):
            for part in () if field.metadata.get("inner") else parts(hints[field.name]):
                if attrs.has(part) and part.__module__.startswith(room):
                    reached(part, known, room)
    return known


def all_of(roots: tuple[type, ...], room: str) -> list[type]:
    known: set[type] = set()
    for root in roots:
        reached(root, known, room)
    return sorted(known, key=lambda kind: kind.__name__)


STATED_NOUNS = all_of(STATED, "evpack.describe")


def plain_numbers() -> list[tuple[type, attrs.Attribute[Any]]]:
    return [
        (kind, field)
        for kind in (*all_of(ROOTS, "evpack.outcome"), *STATED_NOUNS)
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


def listed(reasons: dict[tuple[str, str], str], kind: type, field: str) -> bool:
    name = kind.__name__
    return bool({(name, field), ("*", field), (name, "*")} & reasons.keys())


@pytest.mark.parametrize("kind", STATED_NOUNS, ids=lambda kind: kind.__name__)
def test_every_stated_field_is_told(kind: type) -> None:
    for field in attrs.fields(kind):
        assert bool(field.metadata.get("label")) or listed(NO_ROW, kind, field.name), field.name
        inner = bool(field.metadata.get("inner"))
        assert inner is ((kind.__name__, field.name) in NOT_IN_JSON), field.name


def test_what_is_listed_is_there() -> None:
    fields = {(kind.__name__, f.name): f for kind in STATED_NOUNS for f in attrs.fields(kind)}
    for kind, name in (*NO_ROW, *NOT_IN_JSON):
        found = [key for key in fields if kind in {"*", key[0]} and name in {"*", key[1]}]
        assert found, (kind, name)
    for key in NO_ROW:
        assert key not in fields or not fields[key].metadata.get("label"), key


@attrs.frozen(kw_only=True, field_transformer=checked)
class Humming(Inverter):
    """An inverter with one field more, said in one place."""

    hum: Quantity | None = attrs.field(
        converter=optional(watts),
        default=None,
        metadata=told("hum at full output", after="idle"),
    )


def test_a_new_field_is_told_everywhere() -> None:
    build = read_sheet(example("wether-barn"))
    first = build.inverters[0]
    given = {f.name: getattr(first, f.name) for f in attrs.fields(Inverter)}
    humming = Humming(**given, hum="12 W")
    labels = [row.label for row in facts(humming).rows]
    assert labels.index("hum at full output") == labels.index("idle draw, each") + 1
    humming = attrs.evolve(humming, basis=bases({"default": "datasheet", "hum": "assumed"}))
    decision = decide(design(attrs.evolve(build, inverters=(humming, *build.inverters[1:]))))
    (stated, *_) = to_json(decision)["about"]["stated"]["inverters"]
    assert stated["hum"] == {"value": 12.0, "unit": "W"}
    row = {"of": humming.name, "what": "hum at full output", "taken": "12 W", "confirm": True}
    assert row in to_json(decision)["about"]["assumed"]
    for page in (as_text(humming), as_html(humming), as_html(decision)):
        assert "hum at full output" in page
        assert "12\u00a0W" in page or "12 W" in page
    assert "hum at full output" in decision_text(decision, full=True)
