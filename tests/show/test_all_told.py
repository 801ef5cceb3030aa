"""Every field that a person states is told: a row changes when the field does."""

from __future__ import annotations

from typing import Any

import attrs
import pint
import pytest
from strategies import (
    BLEND,
    good_array,
    good_bar,
    good_charger,
    good_conductor,
    good_disconnect,
    good_emergency,
    good_family,
    good_inverter,
    good_load,
    good_module,
    good_monitoring,
    good_pack,
    good_precharge,
    good_profile,
    good_safeguards,
    solar_build,
    solar_charger,
    solar_site,
    straight,
)

from evpack.base.units import kind_of
from evpack.describe.cabling import Run
from evpack.describe.ocv import ResistanceCurve
from evpack.describe.policy import Policy
from evpack.describe.ranges import CurrentRange, VoltageRange
from evpack.show.facts import facts

RUN = Run(
    name="run",
    conductor=good_conductor(),
    length="2 m",
    parallel=2,
    shortest="1.5 m",
    alternatives=(good_conductor(100.0, 1.0, 20.0), good_conductor()),
)
NOUNS = (
    good_module(cell_highest="4.15 V", cell_least="3.1 V", cell_nominal="3.6 V"),
    good_pack(),
    good_monitoring(),
    good_inverter(leg="1", own_circuits=False, where="menu"),
    solar_charger(power="2 kW", pv_inputs=1, where="menu", left_on=good_profile()),
    good_profile(),
    good_array(on_input="1"),
    RUN,
    solar_build().cabling,
    good_bar(),
    good_family(melting="10 kA2s", clearing="20 kA2s"),
    good_family(kind="breaker", poles=2, polarised=False, instantaneous_trip="500 A"),
    good_safeguards(insulation_monitoring=True),
    good_disconnect(),
    good_emergency(),
    good_precharge(),
    good_load(larger_leg="60 %"),
    solar_site(place="hut"),
    Policy(charge_target="4.0 V"),
)

# Values that cannot be made from the old one by its kind.
OTHERS: dict[tuple[str, str], Any] = {
    ("Module", "chemistry"): BLEND,
    ("Module", "resistance_method"): "two-step",
    ("Module", "ocv"): attrs.evolve(straight(3.0, 4.2), quality="another"),
    ("Module", "resistance_curve"): ResistanceCurve(soc=(0.2, 0.8), ohms=(0.02, 0.01)),
    ("Module", "resistance_temperature"): "20 degC",
    ("Module", "resistance_soc"): "50 %",
    ("Module", "imbalance_full"): "12 mV",
    ("Module", "imbalance_empty"): "60 mV",
    ("Module", "lowest_group"): "3.1 V",
    ("Module", "weakest_group"): 2,
    ("Pack", "module"): good_module(name="another"),
    ("Pack", "monitoring"): "none",
    ("Pack", "earthed"): "plus",
    ("Inverter", "leg"): "2",
    ("Inverter", "restart"): "none",
    ("Inverter", "charger"): good_charger(name="inside"),
    ("Charger", "source"): "mains",
    ("Charger", "kept_off"): "turned off",
    ("Charger", "left_on"): good_profile(name="another"),
    ("Run", "conductor"): good_conductor(300.0, 0.2, 100.0),
    ("Run", "left_open"): True,
    ("Run", "protected"): True,
    ("Cabling", "link"): RUN,
    ("Cabling", "bar"): None,
    ("Cabling", "own"): {"inverter": RUN},
    ("FuseFamily", "characteristic"): "time-delay",
    ("FuseFamily", "basis"): "measured",
    ("FuseFamily", "source"): "fuse-print",
    ("FuseFamily", "instantaneous_trip"): None,
    ("FuseFamily", "clearing_time"): "20 ms",
    ("FuseFamily", "rating"): "60 A",
    ("Safeguards", "ambient"): "45 degC",
    ("Safeguards", "both_ends"): True,
    ("Safeguards", "to_buy"): ("bars",),
    ("Disconnect", "behind"): "breakers",
    ("Precharge", "each_inverter"): False,
    ("Site", "kind"): "field",
    ("Site", "serves_home"): True,
    ("Site", "live_parts_guarded"): True,
    ("Site", "rules"): "iec",
    **{("Cabling", run): None for run in ("module_lead", "main", "charger", "array")},
    **{
        ("Safeguards", place): good_family(name="another")
        for place in ("string_fuse", "main_fuse", "charger_fuse", "array_fuse")
    },
    **{("Safeguards", place): None for place in ("disconnect", "emergency_off", "precharge")},
}
# What no row tells, and why.
NOT_TOLD = {
    ("*", "basis"): "stands beside each value",
    ("FuseFamily", "confirmed"): "its findings say so",
    ("FuseFamily", "kind"): "told, and tested below: no other field may stay",
    ("FuseFamily", "key"): "a word for sheets; its name is told",
    ("Run", "alternatives"): "the sizes of a table, not stated",
    ("Run", "conditions"): "what its conductor was looked up under: told with the conductor",
    ("Busbar", "conditions"): "the note of what it carries",
    ("Busbar", "source"): "the note of what it carries, where no conditions are stated",
}
# What only a breaker has, and what only a fuse has.
FOR_BREAKERS = ("poles", "polarised", "instantaneous_trip", "clearing_time")


def other(noun: Any, field: str) -> Any:
    """Return another value of a field."""
    key, old = (type(noun).__name__, field), getattr(noun, field)
    if key in OTHERS:
        return OTHERS[key]
    match old:
        case bool():
            return not old
        case int():
            return old + 1
        case str():
            return f"{old} or another"
        case pint.Quantity():
            # Small enough to stay within what a noun takes, large enough for three digits.
            return kind_of(old).of(float(old.m) * 0.99 if old.m else 0.02)
        case VoltageRange() | CurrentRange():
            return attrs.evolve(old, high=kind_of(old.high).of(float((old.high + old.step).m)))
    raise AssertionError(f"{key}: say another value for {old!r}")


FIELDS = [
    pytest.param(noun, field.name, id=f"{type(noun).__name__}-{n}-{field.name}")
    for n, noun in enumerate(NOUNS)
    for field in attrs.fields(type(noun))
    if ("*", field.name) not in NOT_TOLD
    and (type(noun).__name__, field.name) not in NOT_TOLD
    and not (
        type(noun).__name__ == "FuseFamily"
        and (field.name in FOR_BREAKERS) != (noun.kind == "breaker")
    )
]


@pytest.mark.parametrize(("noun", "field"), FIELDS)
def test_a_row_changes_when_a_field_does(noun: Any, field: str) -> None:
    changed = attrs.evolve(noun, **{field: other(noun, field)})
    assert facts(changed) != facts(noun)


def test_a_fuse_and_a_breaker_are_told_apart() -> None:
    fuse, breaker = (good_family(kind=kind, characteristic="") for kind in ("fuse", "breaker"))
    assert facts(fuse).rows[0] != facts(breaker).rows[0]


def test_what_is_not_told_is_a_field() -> None:
    names = {(type(noun).__name__, f.name) for noun in NOUNS for f in attrs.fields(type(noun))}
    for noun, field in NOT_TOLD:
        assert (noun, field) in names or noun == "*"


def test_the_disconnect_tells_what_short_circuit_it_withstands() -> None:
    told = {row.label: (row.value, row.basis) for row in facts(good_disconnect()).rows}
    assert told["short-circuit current that it stands"] == ("20 kA", "datasheet")
