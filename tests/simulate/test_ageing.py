"""Years as a range over models: what the range is made of, and when nothing is told."""

from __future__ import annotations

from typing import Any

import attrs
import numpy as np
import pytest
from house.test_formulas import check
from strategies import OXIDE, good_build, good_module, good_pack, good_site, with_inverter

from evpack.base.errors import DataError, DescriptionError
from evpack.base.finding import Severity
from evpack.base.source import Seen
from evpack.base.units import volts
from evpack.describe.ageing_model import AgeingModel, Constant
from evpack.describe.operation import Operation, daily
from evpack.design import design
from evpack.kernels.ageing import MODELS
from evpack.lifetime import ageing, years_of
from evpack.load.chemistries import ageing_models, read_model
from evpack.load.fields import Place
from evpack.load.tables import source
from evpack.outcome.ageing import Ageing
from evpack.outcome.design import Design
from evpack.outcome.operation import OperationRun
from evpack.simulate.ageing import ageing_of
from evpack.simulate.operation import simulate_operation

YEAR = 365.25 * 24
HOURS = np.arange(0.0, YEAR)
DAILY = np.interp(HOURS % 24, (0.0, 8.0, 20.0, 24.0), (0.9, 0.9, 0.4, 0.9))


def designed(key: str, **changes: Any) -> Design:
    chemistry = attrs.evolve(OXIDE, key=key)
    return design(good_build(pack=good_pack(module=good_module(chemistry=chemistry)), **changes))


def severities(found: Ageing) -> dict[str, Severity]:
    return {f.rule.key: f.severity for f in found.findings}


def with_history(key: str, **more: Any) -> Ageing:
    return ageing(designed(key), soc=DAILY, temperature=20.0, hours=HOURS, **more)


def test_a_chemistry_without_a_model_is_unknown() -> None:
    found = with_history("nca")
    assert severities(found)["ageing.model"] is Severity.UNKNOWN
    assert found.years is None
    assert found.lower is None
    assert not found.models
    assert found.cycles is not None
    assert "not known" in str(found)


def test_no_model_claims_titanate_or_nca() -> None:
    fitted = {key for model in ageing_models() for key in model.chemistries}
    assert fitted == {"nmc", "nmc-lmo", "lmo", "lfp"}


@pytest.mark.parametrize("key", ["nmc-lmo", "lmo", "lfp"])
def test_the_range_runs_from_the_worst_model_to_the_best(key: str) -> None:
    found = with_history(key)
    assert found.years is not None
    years = [one.years.value for one in found.models]
    tenth = YEAR * 360
    assert len(years) > 1
    assert 0 <= min(years) - found.years.least.value < tenth
    assert 0 <= max(years) - found.years.most.value < tenth
    assert severities(found)["ageing.history"] is Severity.OK
    assert "ageing.alone" not in severities(found)


def test_one_model_alone_is_spread_and_said_to_be() -> None:
    found = with_history("nmc")
    (only,) = found.models
    assert found.years is not None
    assert found.years.least.value < only.years.value < found.years.most.value
    assert severities(found)["ageing.alone"] is Severity.CAUTION


def test_a_daily_cycle_is_counted_as_one() -> None:
    """365.25 times 50 %: 182.6 full cycles; 180 Ah of pack: 182.625 * 180 = 32872.5 Ah."""
    found = with_history("nmc")
    assert found.cycles is not None
    assert found.cycles.full_cycles * YEAR / found.cycles.hours == pytest.approx(182.6, rel=2e-3)
    assert found.through is not None
    assert found.through.value == pytest.approx(32872, rel=2e-3)


def test_a_steady_year_is_what_the_kernel_gives() -> None:
    """At rest all year: naumann loses 1.2571e-5 * 0.60225 * sqrt(t), and so 20 % as by hand."""
    found = ageing(designed("lfp"), soc=[0.5, 0.5], temperature=25.0, hours=[0.0, YEAR], end="80 %")
    naumann = next(one for one in found.models if one.model.form == "naumann")
    assert naumann.resting.value == pytest.approx(0.04253, rel=1e-3)
    assert naumann.cycling.value == 0
    assert naumann.years.value / YEAR / 3600 == pytest.approx((0.2 / 0.04253) ** 2, rel=2e-3)


def test_a_longer_use_is_had_from_an_end_further_down() -> None:
    near, far = (with_history("lfp", end=end).years for end in ("90 %", "60 %"))
    assert near is not None
    assert far is not None
    assert near.least.value < far.least.value


def test_no_further_than_forty_years_is_told() -> None:
    found = ageing(designed("lfp"), soc=[0.1, 0.1], temperature=0.0, hours=[0, YEAR], end="50 %")
    naumann = next(one for one in found.models if one.model.form == "naumann")
    assert naumann.years.value == pytest.approx(40 * YEAR * 3600)
    assert "or more" in naumann.years.inputs[0].means


def test_a_lower_target_buys_years_and_costs_energy() -> None:
    found = with_history("nmc-lmo", lower="3.9 V")
    lower = found.lower
    assert lower is not None
    assert lower.target.value == pytest.approx(3.9)
    assert lower.gained.value > 0
    # Set to 56.1 V and 54.0 V; 9 A of absorption end current over 14.7 mΩ leaves 55.97 and 53.87 V
    # at rest: 3.9979 and 3.8477 V a cell. 80 % + (3.9979 - 3.972) / 0.228 * 20 % = 82.3 %, and
    # 50 % + (3.8477 - 3.717) / 0.255 * 30 % = 65.4 %. Of 180 Ah that is 30.4 Ah, at 3.920 V a cell
    # in the mean, 54.9 V, less 40 A over 15.5 mΩ: 54.3 V. 30.4 Ah * 54.3 V = 1.65 kWh.
    assert lower.given_up.value == pytest.approx(1650, rel=5e-3)
    # From 90 to 40 % it goes to 73 to 23 %, and the discharge ends at 6 %.
    assert lower.as_before
    assert severities(found)["lower-target.serves"] is Severity.OK
    assert lower.years.least.value >= (found.years.least.value if found.years else 0)


def test_what_is_given_up_is_what_two_designs_differ_by() -> None:
    plain = designed("nmc-lmo")
    policy = attrs.evolve(plain.build.policy, charge_target=volts("4.00 V"))
    then = design(attrs.evolve(plain.build, policy=policy))
    lower = with_history("nmc-lmo").lower
    assert lower is not None
    assert plain.usable is not None
    assert then.usable is not None
    assert lower.given_up.value == plain.usable.reachable.value - then.usable.reachable.value


def test_years_with_a_lower_target_are_those_of_the_shifted_history() -> None:
    """The end of charge lies at 82.253 % and with 3.9 V at 65.374 %: every state 16.879 % lower."""
    lower = with_history("nmc-lmo", lower="3.9 V").lower
    by_hand = ageing(designed("nmc-lmo"), soc=DAILY - 0.16879, temperature=20.0, hours=HOURS)
    assert lower is not None
    assert by_hand.years is not None
    assert lower.years.least.value == pytest.approx(by_hand.years.least.value, rel=1e-3)
    assert lower.years.most.value == pytest.approx(by_hand.years.most.value, rel=1e-3)


def test_a_use_that_would_fall_below_the_end_is_cut_short_and_said_to_be() -> None:
    """From 70 to 10 %: 16.879 % lower it would go to -6.9 %, and the discharge ends at 5.7 %."""
    soc = np.interp(HOURS % 24, (0.0, 8.0, 20.0, 24.0), (0.7, 0.7, 0.1, 0.7))
    given: dict[str, Any] = {"temperature": 20.0, "hours": HOURS}
    found = ageing(designed("nmc-lmo"), soc=soc, lower="3.9 V", **given)
    lower = found.lower
    assert lower is not None
    assert not lower.as_before
    assert severities(found)["lower-target.serves"] is Severity.CAUTION
    (said,) = (f for f in found.findings if f.rule.key == "lower-target.serves")
    assert "cannot be used as before" in said.detail
    assert "to -6.88 %" in said.detail.replace("\u2212", "-")
    cut = np.maximum(soc - 0.16879, 0.05729)
    by_hand = ageing(designed("nmc-lmo"), soc=cut, **given)
    assert by_hand.years is not None
    assert lower.years.least.value == pytest.approx(by_hand.years.least.value, rel=1e-3)


def test_all_of_it_every_day_cannot_be_had_from_a_lower_target() -> None:
    lower = ageing(designed("nmc-lmo")).lower
    assert lower is not None
    assert not lower.as_before


def test_nobody_draws_further_than_before() -> None:
    """Who already went to empty, at a light load, stays there: at rest, without a cycle."""
    found = ageing(
        designed("lfp"), soc=[0.05, 0.0, 0.05], temperature=20.0, hours=[0, 10, 20], lower="3.5 V"
    )
    assert found.lower is not None
    assert not found.lower.as_before
    still = ageing(designed("lfp"), soc=[0.0, 0.0], temperature=20.0, hours=[0, 20])
    assert still.years is not None
    assert found.lower.years.least.value == still.years.least.value


def test_a_lower_target_without_a_window_is_unknown() -> None:
    made = attrs.evolve(designed("nmc"), usable=None)
    found = ageing(made, soc=DAILY, temperature=20.0, hours=HOURS)
    assert found.years is not None
    assert found.lower is None
    assert severities(found)["lower-target.serves"] is Severity.UNKNOWN


def test_a_setting_that_comes_no_lower_buys_nothing() -> None:
    """0.1 mV a cell, 1.4 mV of the pack, is less than the step of 0.1 V of the charger."""
    found = with_history("nmc", lower="4.0499 V")
    assert found.lower is None
    assert severities(found)["lower-target.serves"] is Severity.UNKNOWN


def test_a_lower_target_that_holds_the_design_up_says_so() -> None:
    """At 3.5 V a cell next to nothing lies between the settings, even at rest."""
    found = with_history("nmc", lower="3.5 V")
    shallow = ageing(  # 67.6 % lower it goes from 22.4 to 17.4 %
        designed("nmc"), soc=[0.9, 0.85, 0.9], temperature=20.0, hours=[0, 9, 24], lower="3.5 V"
    )
    for one, as_before in ((found, False), (shallow, True)):
        (said,) = (f for f in one.findings if f.rule.key == "lower-target.serves")
        assert said.severity is Severity.CAUTION
        assert "is held up by" in said.detail
        assert "usable.any (pack)" in said.detail
        assert ("cannot be used as before" in said.detail) is not as_before


def test_constants_from_memory_tell_no_more_than_an_order_of_size() -> None:
    found = with_history("nmc")
    (said,) = (f for f in found.findings if f.rule.key == "ageing.model")
    assert said.severity is Severity.CAUTION
    assert "an order of size" in said.detail
    seen = [
        attrs.evolve(m, constants=tuple(attrs.evolve(c, how="copy") for c in m.constants))
        for m in ageing_models()
    ]
    given: dict[str, Any] = {"soc": DAILY, "temperature": 20.0, "hours": HOURS}
    read = ageing_of(designed("nmc"), seen, redesign=design, **given)
    assert severities(read)["ageing.model"] is Severity.OK
    blend = [m for m in ageing_models() if "nmc-lmo" in m.chemistries]
    mixed = [blend[0], *(m for m in seen if m.key in {b.key for b in blend[1:]})]
    for models, words in ((blend, "of each."), (mixed, f"of {blend[0].name}.")):
        told = ageing_of(designed("nmc-lmo"), models, redesign=design, **given)
        (said,) = (f for f in told.findings if f.rule.key == "ageing.model")
        assert said.severity is Severity.CAUTION
        assert said.detail.endswith(words)


def test_the_policy_may_set_the_target() -> None:
    plain = designed("nmc-lmo")
    policy = attrs.evolve(plain.build.policy, charge_target=volts("4.00 V"))
    own = design(attrs.evolve(plain.build, policy=policy))
    lower = ageing(own, soc=DAILY, temperature=20.0, hours=HOURS).lower
    assert lower is not None
    assert lower.target.value == pytest.approx(3.95)


@pytest.mark.parametrize("lower", ["4.05 V", "4.1 V", "2.9 V"])
def test_a_lower_target_that_is_none_is_refused(lower: str) -> None:
    with pytest.raises(DescriptionError, match=r"a lower charge target lies below 4\.05 V"):
        with_history("nmc", lower=lower)


def test_without_a_history_one_is_assumed_and_said() -> None:
    found = ageing(designed("nmc"))
    assert severities(found)["ageing.history"] is Severity.CAUTION
    assert found.years is not None
    assert any("one cycle a day" in words for words in found.assumed)
    # Cells from 16 to 30 degC through the year.
    assert found.warmth == pytest.approx(23.0, abs=0.1)


def test_without_a_site_the_warmth_is_assumed() -> None:
    made = designed("nmc", site=good_site(coldest=None))
    found = ageing(made, soc=DAILY, hours=HOURS)
    assert found.warmth == pytest.approx(25.0)
    assert any("25 °C" in words for words in found.assumed)


def test_a_short_history_stands_for_the_year_and_says_so() -> None:
    day = HOURS[:25]
    found = ageing(designed("nmc"), soc=DAILY[:25], temperature=20.0, hours=day)
    whole = with_history("nmc")
    assert any("stand for every day" in words for words in found.assumed)
    assert found.models[0].first.value == pytest.approx(whole.models[0].first.value, rel=0.02)


def test_without_a_window_and_a_history_nothing_is_told() -> None:
    made = attrs.evolve(designed("nmc"), usable=None)
    found = ageing(made)
    assert severities(found)["ageing.history"] is Severity.UNKNOWN
    assert found.years is None
    assert found.through is None
    assert found.lines() == ()


def test_a_chemistry_without_targets_has_no_lower_one() -> None:
    made = designed("nmc")
    chemistry = attrs.evolve(made.build.pack.module.chemistry, targets=None, why_refused="Test.")
    module = attrs.evolve(made.build.pack.module, chemistry=chemistry)
    build = attrs.evolve(made.build, pack=attrs.evolve(made.build.pack, module=module))
    found = ageing(attrs.evolve(made, build=build), soc=DAILY, temperature=20.0, hours=HOURS)
    assert found.lower is None
    assert found.years is not None


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"soc": DAILY}, "soc needs hours"),
        ({"hours": HOURS}, "hours without soc"),
        ({"soc": DAILY, "hours": HOURS, "temperature": [1.0]}, "temperature: needs one"),
        ({"end": "100 %"}, "end must lie between"),
    ],
)
def test_what_cannot_be_is_refused(given: dict[str, Any], words: str) -> None:
    with pytest.raises(DescriptionError, match=words):
        ageing(designed("nmc"), **given)


def test_every_number_is_what_its_formula_gives() -> None:
    for key in ("nmc", "nmc-lmo", "lfp"):
        for line in with_history(key).lines():
            check(line)


def test_numbers_name_sources_on_file() -> None:
    for line in with_history("nmc-lmo").lines():
        assert source(line.source).title


def test_a_design_whose_window_ends_above_its_top_is_still_told() -> None:
    assert ageing(design(with_inverter(window_low="55 V"))).years is None


# From a run of operation.


def worked() -> OperationRun:
    made = design(good_build())
    asked = Operation(
        load=daily("home", "6 kWh"), coldest="20 degC", warmest="25 degC", length="4 days"
    )
    return simulate_operation(made, asked)


def test_a_run_of_operation_is_a_history() -> None:
    run = worked()
    assert run.outcome is not None
    series = run.outcome.series
    by_run = ageing(designed("nmc"), run=run)
    by_hand = ageing(
        designed("nmc"), soc=series.soc, temperature=series.celsius, hours=series.time / 3600
    )
    assert by_run.models[0].first.value == by_hand.models[0].first.value
    assert any("stand for every day" in words for words in by_run.assumed)


def test_a_run_that_is_none_or_came_to_nothing_is_refused() -> None:
    run = worked()
    with pytest.raises(DescriptionError, match="not both"):
        ageing(designed("nmc"), run=run, soc=DAILY, hours=HOURS)
    with pytest.raises(DescriptionError, match="came to nothing"):
        ageing(designed("nmc"), run=attrs.evolve(run, outcome=None))
    with pytest.raises(DescriptionError, match="an OperationRun is needed"):
        ageing(designed("nmc"), run=DAILY)  # type: ignore[arg-type]


# The models on file.


def test_every_model_says_how_it_was_had() -> None:
    for model in ageing_models():
        assert model.form in MODELS
        assert source(model.source).seen is Seen.MEMORY
        assert {constant.how for constant in model.constants} == {Seen.MEMORY}
        assert model.fits


def table(**changes: Any) -> dict[str, Any]:
    constant = {"symbol": "a", "value": 1.0, "unit": "1", "how": "memory"}
    fields: dict[str, Any] = {
        "name": "made up",
        "form": "xu",
        "source": "common-practice",
        "chemistries": ["nmc"],
        "fits": "Nothing.",
        "constants": [constant],
    }
    return {**fields, **changes}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"form": "xo"}, "is no formula held"),
        ({"chemistries": "nmc"}, "list of keys"),
        ({"chemistries": [1]}, "list of keys"),
        ({"constants": 1}, "a table for each constant"),
        ({"constants": [1]}, "a table for each constant"),
        ({"constants": []}, "needs constants"),
        ({"constants": [{"symbol": "a", "value": True, "unit": "1", "how": "memory"}]}, "plain"),
        ({"constants": [{"symbol": "a", "value": 1.0, "unit": "1", "how": "seen"}]}, "seen"),
        ({"colour": "red"}, "is not known here"),
    ],
)
def test_a_file_that_holds_no_model_is_refused(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(DataError, match=words):
        read_model("made-up", table(**changes), Place("made-up.toml"))


def test_a_constant_given_twice_is_refused() -> None:
    twice = (Constant(symbol="a", value=1.0, unit="1", how="memory"),) * 2
    with pytest.raises(DescriptionError, match="each given once"):
        AgeingModel(
            key="x", name="x", form="xu", source="x", chemistries=(), fits="", constants=twice
        )


# --- The years alone, for a search ------------------------------------------------------------


@pytest.mark.parametrize("key", ["nmc", "nmc-lmo", "lfp"])
def test_the_years_alone_are_those_that_the_whole_tells(key: str) -> None:
    made = designed(key)
    whole = ageing(made).years
    assert whole is not None
    alone = years_of(made)
    assert alone == (whole.least.value / (YEAR * 3600), whole.most.value / (YEAR * 3600))


def test_no_years_alone_without_a_model_and_without_anything_usable() -> None:
    assert years_of(designed("nca")) is None
    assert years_of(attrs.evolve(designed("nmc"), usable=None)) is None
