"""The build with its site, load and choices."""

from collections.abc import Callable
from typing import Any

import attrs
import pytest

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, UnitError
from evpack.base.fitted import NOT_FITTED
from evpack.describe.array import Array
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling, Run
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.policy import Policy, means
from evpack.describe.site import RULE_SETS, Load, Site

Maker = Callable[..., Any]

SUN = Charger(name="sun", source="solar")
MAINS = Charger(name="mains", source="mains", count=2)


@pytest.fixture
def parts(pack: Maker) -> dict[str, object]:
    return {
        "title": "Some barn",
        "pack": pack(),
        "inverters": Inverter(name="one"),
        "load": Load(continuous="1 kW"),
    }


def test_one_inverter_or_many(parts: dict[str, object]) -> None:
    assert [i.name for i in Build(**parts).inverters] == ["one"]
    two = [Inverter(name="one"), Inverter(name="other")]
    assert Build(**{**parts, "inverters": two}).inverters == tuple(two)


def test_nothing_is_fitted_unless_told(parts: dict[str, object]) -> None:
    build = Build(**parts)
    assert build.chargers == ()
    assert build.profiles == ()
    assert build.cabling.main is None
    assert (build.safeguards.string_fuse, build.safeguards.main_fuse, build.sheet) == ("", "", "")
    assert not build.invented


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"inverters": "one"}, "inverters: an Inverter is needed, such as .+; got 'one'"),
        ({"inverters": None}, "inverters: an Inverter is needed, such as .+; got None"),
        ({"inverters": [Inverter(name="one"), SUN]}, "inverters: an Inverter is needed"),
        ({"chargers": [Inverter(name="one")]}, "chargers: a Charger is needed"),
        ({"chargers": 3}, "chargers: a Charger is needed, such as .+; got 3"),
    ],
)
def test_what_is_no_equipment_is_refused(
    parts: dict[str, object], wrong: dict[str, object], said: str
) -> None:
    with pytest.raises(DescriptionError, match=said):
        Build(**{**parts, **wrong})


def test_built_in_chargers_count_once_for_each_unit(parts: dict[str, object]) -> None:
    inverters = [
        Inverter(name="three", count=3, charger=MAINS),
        Inverter(name="none"),
    ]
    every = Build(**{**parts, "inverters": inverters, "chargers": SUN}).all_chargers
    assert [(c.name, c.count) for c in every] == [("sun", 1), ("mains", 6)]


@pytest.mark.parametrize(
    "alike",
    [
        {"inverters": [Inverter(name="one"), Inverter(name="one")]},
        {"chargers": [SUN, attrs.evolve(SUN, source="mains")]},
        {"chargers": [Charger(name="one", source="solar")]},  # called as the inverter is
        {"inverters": Inverter(name="one", charger=SUN), "chargers": [SUN]},
    ],
)
def test_two_devices_of_one_name_are_refused(
    parts: dict[str, object], alike: dict[str, object]
) -> None:
    with pytest.raises(DescriptionError, match=r"two devices are called '(one|sun)'"):
        Build(**{**parts, **alike})


def test_arrays_are_unknown_settled_elsewhere_or_described(parts: dict[str, object]) -> None:
    array = Array(feeds="sun", in_series=3)
    assert (Build(**parts).arrays, Build(**parts).solar_arrays) == (None, ())
    elsewhere = Build(**parts, arrays="none")
    assert (elsewhere.arrays, elsewhere.solar_arrays) == (NOT_FITTED, ())
    assert Build(**parts, chargers=SUN, arrays=array).solar_arrays == (array,)
    with pytest.raises(DescriptionError, match="arrays: an Array is needed"):
        Build(**parts, chargers=SUN, arrays=[SUN])


def test_an_array_on_no_charger_is_refused(parts: dict[str, object]) -> None:
    with pytest.raises(DescriptionError, match=r"roof: feeds 'son', .+ \(did you mean 'sun'\?\)"):
        Build(**parts, chargers=SUN, arrays=Array(name="roof", feeds="son", in_series=3))


def test_an_array_is_called_as_no_other_device_is(parts: dict[str, object]) -> None:
    with pytest.raises(DescriptionError, match="two devices are called 'sun'"):
        Build(**parts, chargers=SUN, arrays=Array(name="sun", feeds="sun", in_series=3))


def test_a_run_of_its_own_is_for_a_device_that_there_is(
    parts: dict[str, object], conductor: Maker
) -> None:
    run = Run(name="long", conductor=conductor(), length="9 m")
    held = Build(**parts, cabling=Cabling(own={"one": run}))
    assert held.cabling.run_of(held.inverters[0], None) is run
    with pytest.raises(DescriptionError, match=r"for 'on', .+ \(did you mean 'one'\?\)"):
        Build(**parts, cabling=Cabling(own={"on": run}))


# Site.


def test_a_site_is_under_the_nec_unless_told() -> None:
    assert Site().rules == "nec"
    assert {Site(rules=r).rules for r in RULE_SETS} == {"nec", "iec"}
    assert (Site().coldest, Site().warmest) == (None, None)


@pytest.mark.parametrize(
    ("wrong", "error", "said"),
    [
        (
            {"coldest": "30 degC", "warmest": "5 degC"},
            DescriptionError,
            r"coldest \(30 °C\) must not lie above warmest \(5 °C\)",
        ),
        ({"rules": "cec"}, DescriptionError, r"rules 'cec' are not held"),
        (
            {"coldest_outside": "3 degC", "warmest_outside": "-3 degC"},
            DescriptionError,
            r"site: coldest_outside \(3 °C\) must not lie above warmest_outside \(-3 °C\)",
        ),
        ({"coldest": 5}, UnitError, "5 has no unit; write it as '5 degC'"),
        ({"warmest": "30 K"}, UnitError, "'30 K' is a temperature difference; a temperature is"),
    ],
)
def test_a_year_upside_down_is_refused(
    wrong: dict[str, object], error: type[Exception], said: str
) -> None:
    with pytest.raises(error, match=said):
        Site(**wrong)


@pytest.mark.parametrize(
    "half",
    [{"coldest": "30 degC"}, {"warmest": "-30 degC"}, {"coldest": "5 degC", "warmest": "5 C"}],
)
def test_a_half_known_or_level_year_is_held(half: dict[str, str]) -> None:
    assert any(getattr(Site(**half), field) is not None for field in half)


# Load.


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"continuous": "0 W"}, "continuous must be above 0 W"),
        ({"larger_leg": "49 %"}, "larger_leg must lie between 50 % and 100 %, got 49 %"),
        ({"larger_leg": "101 %"}, "larger_leg must lie between 50 % and 100 %, got 101 %"),
        ({"typical": "0 W"}, r"typical must lie above 0 W .+continuous \(1000 W\), got 0 W"),
        ({"typical": "1.1 kW"}, r"typical must lie above 0 W .+\(1000 W\), got 1100 W"),
        ({"peak": "999 W"}, r"peak \(999 W\) must not lie below continuous \(1000 W\)"),
    ],
)
def test_a_load_out_of_order_is_refused(wrong: dict[str, str], said: str) -> None:
    with pytest.raises(DescriptionError, match=f"load: {said}"):
        Load(**{"continuous": "1 kW", **wrong})


def test_a_load_may_be_level() -> None:
    level = Load(continuous="1 kW", typical="1 kW", peak="1000 VA")
    assert level.continuous == level.typical == level.peak
    assert Load(continuous="1 kW").typical is None
    assert [Load(continuous="1 kW", larger_leg=leg).larger_leg.m for leg in ("50 %", "100 %")] == [
        0.5,
        1.0,
    ]


# Policy.

GUARDS = [f for f in attrs.fields(Policy) if "bounds" in f.metadata]


def test_defaults_are_assumed_and_lie_within_their_bounds() -> None:
    policy = Policy()
    assert len(GUARDS) == len(attrs.fields(Policy)) - 2  # the charge target and the basis
    for guard in GUARDS:
        least, most = guard.metadata["bounds"]
        assert least <= getattr(policy, guard.name).m <= most
        assert policy.basis.of(guard.name) is Basis.ASSUMED
    assert policy.charge_target is None


@pytest.mark.parametrize("guard", GUARDS, ids=lambda g: g.name)
def test_a_guard_outside_its_bounds_is_refused_and_at_them_held(guard: attrs.Attribute) -> None:
    least, most = guard.metadata["bounds"]
    for edge in (least, most):
        assert getattr(Policy(**{guard.name: f"{edge * 100:.10g} %"}), guard.name).m == edge
    said = rf"policy: {guard.name} \(.+\) must lie between"
    with pytest.raises(DescriptionError, match=said):
        Policy(**{guard.name: f"{most * 100 + 0.1:.10g} %"})
    below = (DescriptionError, said) if least > 0 else (UnitError, "believable")
    with pytest.raises(below[0], match=below[1]):
        Policy(**{guard.name: f"{least * 100 - 0.1:.10g} %"})


@pytest.mark.parametrize("guard", GUARDS, ids=lambda g: g.name)
def test_a_guard_needs_its_per_cent(guard: attrs.Attribute) -> None:
    with pytest.raises(UnitError, match="has no unit"):
        Policy(**{guard.name: 0.2})


def test_every_guard_says_what_it_is() -> None:
    said = [means(guard.name) for guard in GUARDS]
    assert all(len(words.split()) > 2 for words in said)
    assert len(set(said)) == len(said)
    assert means("charge_target") == "charge target, highest cell"


def test_a_charge_target_is_a_voltage() -> None:
    assert Policy(charge_target="4.1 V").charge_target.m == 4.1
    with pytest.raises(UnitError, match="is a share; a voltage is needed"):
        Policy(charge_target="90 %")
