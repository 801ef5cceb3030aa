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
from evpack.lifetime import ageing
from evpack.load.ageing_models import ageing_models, read_model
from evpack.load.fields import Place
from evpack.load.sources import source
from evpack.outcome.ageing import Ageing
from evpack.outcome.design import Design
from evpack.outcome.operation import OperationRun
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
    # 4.05 V is 80 % + (4.05 - 3.972) / (4.2 - 3.972) * 20 % = 86.84 %, 3.9 V is 50 % +
    # (3.9 - 3.717) / (3.972 - 3.717) * 30 % = 71.53 %; of 3 * 60 Ah * 14 * 3.65 V = 9198 Wh.
    assert lower.given_up.value == pytest.approx((0.86842 - 0.71529) * 9198, rel=1e-3)
    assert lower.years.least.value >= (found.years.least.value if found.years else 0)


def test_a_lower_target_takes_nothing_below_empty() -> None:
    found = ageing(
        designed("lfp"), soc=[0.05, 0.0, 0.05], temperature=20.0, hours=[0, 10, 20], lower="3.5 V"
    )
    assert found.lower is not None
    assert found.lower.gained.value == 0


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
