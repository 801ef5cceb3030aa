"""Published models of ageing, each worked by hand; what must hold of all of them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.kernels.ageing import MODELS, Stress, years_till
from evpack.load.chemistries import ageing_models

OF: Mapping[str, Mapping[str, float]] = {model.form: model.values for model in ageing_models()}


def stress(
    *,
    soc: float = 0.5,
    volts: float = 3.7,
    celsius: float = 25.0,
    depth: float = 0.8,
    middle_volts: float = 3.667,
    number: float = 0.0,
    rate: float = 0.5,
) -> Stress:
    """Return a year of one state and one temperature, with cycles of one depth."""
    return Stress(
        part=np.ones(1),
        soc=np.array([soc]),
        volts=np.array([volts]),
        celsius=np.array([celsius]),
        moved=np.ones(1) if number else np.zeros(1),
        depth=np.array([depth]),
        middle_soc=np.array([soc]),
        middle_volts=np.array([middle_volts]),
        number=np.array([number]),
        rate=rate,
    )


# Worked by hand with the constants of data/ageing, for one year at 25 degC, half charged at 3.7 V,
# and 100 cycles of 80 % around 3.667 V at 0.5 C. 365.25 d: ln 365.25 = 5.900582.
#
# schmalstieg  rest   (7.543e6 * 3.7 - 2.375e7) = 4.1591e6; exp(-6976 / 298.15) = exp(-23.39762)
#                     = 6.8951e-11; 2.86776e-4 exp(0.75 * 5.900582) = 2.86776e-4 * 83.549 = 2.396 %
#              cycle  0 + 7.6e-4 + 4.081e-3 * 0.8 = 4.0248e-3; 100 * 0.8 * 2 * 2.15 Ah = 344 Ah;
#                     4.0248e-3 * sqrt(344) = 4.0248e-3 * 18.5472 = 7.465 %
# naumann      rest   1.2571e-5 * 0.60225 * sqrt(31557600) = 7.57088e-6 * 5617.62 = 4.253 %
#              cycle  (0.063 * 0.5 + 0.0971) (4.0253 * 0.2^3 + 1.0923) sqrt(80)
#                     = 0.1286 * 1.1245024 * 8.944272 = 1.2934 %
# stroe        rest   0.019 * 50^0.823 + 0.5195 = 0.994842; 3.258e-9 * 25^5.087 + 0.295 = 0.337099;
#                     0.335360 * 12^0.8 = 0.335360 * 7.30037 = 2.4483 %
#              cycle  0.00024 * exp(0.02717 * 298.15) * 0.02982 * 80^0.4904 * sqrt(100)
#                     = 0.791254 * 0.02982 * 8.57581 * 10 = 2.0235 %
# braco        rest   3.25e8 * exp((162 * 0.5 - 7580) / 298.15) = 3.25e8 * 1.19323e-11 = 3.8780e-3;
#                     times exp(0.464 * 5.900582) = 15.4540: 5.993 %
#              cycle  7.58e-5 * 80^1.08 = 7.58e-5 exp(1.08 * 4.382027) = 7.58e-5 * 113.589 = 0.861 %
# xu           f      4.14e-10 * 31557600 = 0.0130648 at rest; a cycle 1 / (1.4e5 * 0.8^-0.501
#                     - 1.23e5) = 1 / (156559.7 - 123000) = 2.97976e-5, 100 of them 0.00297976;
#                     together 0.0160446
#              loss   1 - 0.0575 exp(-121 * 0.0160446) - 0.9425 exp(-0.0160446)
#                     = 1 - 0.0575 * 0.143503 - 0.9425 * 0.984083 = 6.4250 %;
#                     by cycling 0.00297976 / 0.0160446 = 18.572 % of it, 1.1933 %
BY_HAND = {
    "schmalstieg": (0.02396, 0.07465),
    "naumann": (0.04253, 0.012934),
    "stroe": (0.024483, 0.020235),
    "braco": (0.05993, 0.00861),
    "xu": (0.064250 - 0.011933, 0.011933),
}


@pytest.mark.parametrize("form", MODELS)
def test_each_model_is_as_worked_by_hand(form: str) -> None:
    rest, cycle = MODELS[form](stress(number=100.0), 1.0, OF[form])
    assert (float(rest), float(cycle)) == pytest.approx(BY_HAND[form], rel=2e-4)


def test_a_new_cell_of_lmo_loses_its_first_part_quickly() -> None:
    """One year at rest: f = 0.0130648; 1 - 0.0575 * 0.205801 - 0.9425 * 0.987020 = 5.790 %."""
    rest, cycle = MODELS["xu"](stress(), 1.0, OF["xu"])
    assert float(rest) == pytest.approx(0.05790, rel=2e-4)
    assert float(cycle) == 0.0


@pytest.mark.parametrize("form", MODELS)
def test_no_time_no_loss(form: str) -> None:
    rest, cycle = MODELS[form](stress(number=100.0), 0.0, OF[form])
    assert float(rest) == pytest.approx(0.0, abs=1e-12)
    assert float(cycle) == pytest.approx(0.0, abs=1e-12)


STRESSES = st.builds(
    stress,
    soc=st.floats(0.05, 1.0),
    volts=st.floats(3.2, 4.2),
    celsius=st.floats(1.0, 50.0),
    depth=st.floats(0.05, 1.0),
    middle_volts=st.floats(3.3, 4.1),
    number=st.floats(0.0, 700.0),
    rate=st.floats(0.02, 1.0),
)
FORMS = st.sampled_from(sorted(MODELS))


@given(one=STRESSES, form=FORMS, years=st.floats(0.1, 20.0), later=st.floats(1.01, 2.0))
def test_a_loss_never_shrinks(one: Stress, form: str, years: float, later: float) -> None:
    rest, cycle = MODELS[form](one, np.array([years, years * later]), OF[form])
    whole = rest + cycle
    assert 0 <= whole[0] <= whole[1]
    assert (rest >= 0).all()
    assert (cycle >= 0).all()


@given(one=STRESSES, form=FORMS, cut=st.floats(0.1, 0.9))
def test_a_stretch_cut_in_two_ages_alike(one: Stress, form: str, cut: float) -> None:
    """A mixture of like parts is the whole."""
    two = one._replace(
        part=np.array([cut, 1 - cut]),
        soc=np.repeat(one.soc, 2),
        volts=np.repeat(one.volts, 2),
        celsius=np.repeat(one.celsius, 2),
        moved=one.moved * np.array([cut, 1 - cut]),
        depth=np.repeat(one.depth, 2),
        middle_soc=np.repeat(one.middle_soc, 2),
        middle_volts=np.repeat(one.middle_volts, 2),
        number=one.number * np.array([cut, 1 - cut]),
    )
    whole, parts = (MODELS[form](s, 3.0, OF[form]) for s in (one, two))
    assert [float(loss) for loss in parts] == pytest.approx([float(loss) for loss in whole])


@given(one=STRESSES, form=FORMS, warmer=st.floats(0.5, 10.0))
def test_warmth_ages(one: Stress, form: str, warmer: float) -> None:
    cool, warm = (
        float(sum(MODELS[form](s, 3.0, OF[form])))
        for s in (one, one._replace(celsius=one.celsius + warmer))
    )
    assert warm >= cool


@given(one=STRESSES, form=FORMS, more=st.floats(1.01, 3.0))
def test_cycling_ages(one: Stress, form: str, more: float) -> None:
    some = one._replace(number=one.number + 1.0, moved=np.ones(1))
    less, whole = (
        float(sum(MODELS[form](s, 3.0, OF[form])))
        for s in (some, some._replace(number=some.number * more))
    )
    assert whole > less


def test_years_till_a_loss_of_a_square_root_is_its_square() -> None:
    """At rest naumann loses 4.253 % sqrt(y): 20 % after (0.2 / 0.04253)^2 = 22.11 years."""
    found = years_till(MODELS["naumann"], stress(), OF["naumann"], 0.2, most=40.0)
    assert found == pytest.approx((0.2 / 0.04253) ** 2, rel=1e-3)
    # Just before, never after.
    assert float(sum(MODELS["naumann"](stress(), found, OF["naumann"]))) <= 0.2


def test_no_more_years_are_told_than_asked_for() -> None:
    assert years_till(MODELS["naumann"], stress(), OF["naumann"], 0.5, most=40.0) == 40.0


def test_twice_the_loss_of_a_square_root_takes_a_quarter_of_the_years() -> None:
    once, twice = (
        years_till(MODELS["naumann"], stress(), OF["naumann"], 0.2, most=99.0, scale=scale)
        for scale in (1.0, 2.0)
    )
    assert twice == pytest.approx(once / 4, rel=1e-3)
