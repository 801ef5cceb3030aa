"""How a number is known travels: what rests on an assumed value says so, and weighs no more."""

from __future__ import annotations

import pytest
from strategies import (
    good_build,
    good_charger,
    good_inverter,
    good_pack,
    groundwork,
    with_inverter,
    with_module,
)

from evpack.base.basis import Basis
from evpack.base.finding import Finding
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.policy import Policy
from evpack.design import design
from evpack.setpoint.sheet import charge_current_allowed, charge_current_part

ON_DEMAND = (
    "current.load",
    "current.full-output",
    "current.discharge-rate",
    "current.peak",
    "current.full-surge",
    "current.peak-one-out",
    "current.collapse",
    "current.sag",
    "usable.any",
    "usable.most",
    "usable.carried",
    "usable.stranded",
    "window.loaded",
    "window.restart-early",
    "window.cable-drop",
)


def found(build: Build) -> dict[str, Finding]:
    return {f.rule.key: f for f in design(build).findings if f.rule.key in ON_DEMAND}


def guessed(field: str) -> dict[str, str]:
    return {"default": "datasheet", field: "assumed"}


def test_what_rests_on_the_efficiency_says_so() -> None:
    sure, guess = found(good_build()), found(with_inverter(basis=guessed("efficiency")))
    assert set(sure) == set(guess) == set(ON_DEMAND)
    for key, finding in guess.items():
        assert "least inverter efficiency" in finding.assumed, key
        assert "least inverter efficiency" not in sure[key].assumed, key
        assert finding.severity is sure[key].severity, "only the list grows"


def test_a_long_surge_says_what_it_rests_on() -> None:
    build = with_inverter(surge_time="20 s", basis=guessed("surge"))
    (finding,) = (f for f in design(build).findings if f.rule.key == "current.long-surge")
    assert finding.assumed == ("full surge of all inverters",)


def test_a_collapse_says_what_it_rests_on() -> None:
    build = good_build(
        pack=good_pack(module=with_module(resistance="2 Ohm").pack.module),
        inverters=(good_inverter(basis=guessed("efficiency")),),
    )
    (finding,) = (f for f in design(build).findings if f.rule.key == "window.loaded")
    assert finding.severity.name == "STOP"
    assert "least inverter efficiency" in finding.assumed


@pytest.mark.parametrize(
    ("field", "what", "keys"),
    [
        ("discharge_limit", "discharge limit of a module", ("current.load", "current.full-output")),
        ("discharge_peak", "discharge peak of a module", ("current.peak", "current.peak-one-out")),
        ("capacity", "capacity of a module", ("current.discharge-rate", "usable.any")),
        ("resistance", "resistance of a module (10 s pulse)", ("current.sag", "usable.most")),
    ],
)
def test_what_rests_on_the_module_says_so(field: str, what: str, keys: tuple[str, ...]) -> None:
    every = found(with_module(basis=guessed(field)))
    for key in keys:
        assert what in every[key].assumed, key


def test_the_verdict_is_what_it_was() -> None:
    """One assumed value has its own caution; nothing else of the build gains one."""
    sure = decide(design(good_build()))
    guess = decide(design(with_inverter(basis=guessed("efficiency"))))
    assert not sure.limits
    assert [f.rule.key for f in guess.limits] == ["arrangement.assumed"]


# --- The charge current -------------------------------------------------------------------------


def test_the_packs_charge_current_rests_on_the_modules_limit_and_not_on_a_guard() -> None:
    """The limit of the modules took the basis of the imbalance, its last input."""
    build = with_module(basis=guessed("charge_limit"))
    worked = charge_current_allowed(build, groundwork(build).figures)
    assert worked is not None
    assert worked.assumed == ("charge limit of a module",)
    policy = good_build(policy=Policy(basis={"default": "chosen", "sharing_imbalance": "assumed"}))
    worked = charge_current_allowed(policy, groundwork(policy).figures)
    assert worked is not None
    assert worked.assumed == ("worst string against an even share",)
    limit, capacity, rate = worked.inputs
    assert (limit.basis, capacity.basis, rate.basis) == (
        Basis.COMPUTED,
        Basis.COMPUTED,
        Basis.CHOSEN,
    )


def test_the_part_of_a_charger_rests_on_what_every_charger_gives() -> None:
    """The sum had the basis of the charger that it was worked out for."""
    other = good_charger(name="other", basis=guessed("current"))
    build = good_build(chargers=(good_charger(), other))
    worked = charge_current_part(build, build.chargers[0], groundwork(build).figures)
    assert worked is not None
    by_symbol = {given.symbol: given.basis for given in worked.inputs}
    assert by_symbol["I_own"] is Basis.DATASHEET
    assert by_symbol["I_all"] is Basis.ASSUMED
    assert by_symbol["I_pack"] is Basis.COMPUTED
    assert worked.assumed == ("current of all chargers",)


def test_the_line_of_the_sheet_names_what_its_current_rests_on() -> None:
    build = with_module(basis=guessed("charge_limit"))
    made = design(build).settings
    assert made is not None
    (line,) = (ln for d in made.devices for ln in d.lines if ln.name == "charge current limit")
    assert line.worked is not None
    assert line.worked.assumed == ("charge limit of a module",)
