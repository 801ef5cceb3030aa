"""What a run of sharing says goes back into the build."""

from __future__ import annotations

import attrs
import pytest
from strategies import good_build, with_module, with_policy

from evpack.base.errors import DescriptionError
from evpack.design import design
from evpack.simulate.feedback import reckon_with
from evpack.simulate.sharing import simulate_sharing


def test_fuses_are_sized_for_what_the_run_showed() -> None:
    made = design(good_build())
    run = simulate_sharing(made)
    worst = max(one.uneven.value for case in run.cases for one in case.runs)
    assert worst > 1.2  # a new module among worn ones, against what the design reckons with
    again = reckon_with(made, run)
    imbalance = float(again.policy.sharing_imbalance.m)
    assert worst <= imbalance < worst + 0.011
    assert made.protection is not None
    after = design(again)
    assert after.protection is not None
    before, larger = (d.protection.fuses[0].lower_guard for d in (made, after) if d.protection)
    assert before is not None
    assert larger is not None
    # The least string fuse with our margin follows in proportion; the rules ask about even shares.
    assert larger.value == pytest.approx(before.value * imbalance / 1.2)
    # And then the run finds nothing that the design does not reckon with.
    even = [f for f in simulate_sharing(after).findings if f.rule.key == "sharing-run.even"]
    assert all(f.margin is not None and f.margin >= 0 for f in even)


def test_a_design_that_reckons_with_more_stays_as_it_is() -> None:
    made = design(with_policy(sharing_imbalance="250 %"))
    assert reckon_with(made, simulate_sharing(made)) is made.build


def test_a_run_of_nothing_says_nothing() -> None:
    made = design(with_module(resistance=None))
    with pytest.raises(DescriptionError, match="no cases"):
        reckon_with(made, simulate_sharing(made))


def test_more_than_any_design_may_reckon_with_is_refused() -> None:
    made = design(good_build())
    run = simulate_sharing(made)
    case = run.cases[0]
    wild = attrs.evolve(case.discharge, uneven=attrs.evolve(case.discharge.uneven, value=9.0))
    odd = attrs.evolve(run, cases=(attrs.evolve(case, discharge=wild),))
    with pytest.raises(DescriptionError, match="must lie between"):
        reckon_with(made, odd)
