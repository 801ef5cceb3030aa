"""From a design to strings: what each is made of, and what is said to be assumed."""

from __future__ import annotations

import attrs
import numpy as np
import pytest
from strategies import (
    OXIDE,
    good_bar,
    good_build,
    good_cabling,
    good_conductor,
    good_inverter,
    good_module,
    good_pack,
    with_module,
    with_pack,
    with_policy,
    with_safeguards,
)

from evpack.base.errors import DescriptionError
from evpack.describe.cabling import Cabling, Run
from evpack.describe.ocv import ResistanceCurve
from evpack.describe.policy import Policy
from evpack.design import design
from evpack.simulate.strings import (
    FUSE_DROP,
    JOINTS,
    StringScale,
    main_cable,
    pack_strings,
    string_fuse,
)

GOOD = design(good_build())


def test_the_strings_of_the_good_build() -> None:
    """Three strings of two modules of 7 cells, 60 Ah, 10 mΩ; 1 m leads of 0.64 mΩ/m each way.

    Full 14 · 4.2 = 58.8 V, empty 14 · 3.0 = 42 V; 20 mΩ; lead 2 · 0.64 = 1.28 mΩ, a fuse of 80 A
    0.05/80 = 0.625 mΩ, joints 0.1 mΩ: 2.005 mΩ. Resistance over hours is twice that over 10 s: a
    branch of 20 mΩ. 51.1 V nominal · 60 Ah = 3066 Wh, 7 J/K each: 21462 J/K.
    """
    packed = pack_strings(GOOD)
    strings = packed.strings
    assert strings.ocv.shape == (3, 201)
    assert strings.ocv[:, 0] == pytest.approx(42.0)
    assert strings.ocv[:, -1] == pytest.approx(58.8)
    assert strings.ohms == pytest.approx(0.020)
    assert string_fuse(GOOD) == 80
    assert strings.lead == pytest.approx(0.00128 + 0.000625 + 0.0001)
    assert strings.coulombs == pytest.approx(216e3)
    assert strings.rc_ohms == pytest.approx(0.020)
    assert strings.heat == pytest.approx(21462)
    assert strings.heat / strings.to_air == pytest.approx(3 * 3600)
    # 0.3 m of 30 × 10 mm in two pieces: 0.15 m · 0.017241 · 1.21615 / 300 mm² (75 °C)
    assert strings.plus == pytest.approx(0.15 * 0.017241 * 1.21615 / 300)
    assert (strings.tap_plus, strings.tap_minus) == (0, 0)
    assert strings.cold.size == 101
    assert "resistance of the modules" not in packed.assumed
    assert any("resistance of cold cells" in words for words in packed.assumed)
    assert any("fuse" in words for words in packed.assumed)


def test_opposite_ends() -> None:
    assert pack_strings(GOOD, opposite_ends=True).strings.tap_minus == 2


def test_the_first_string_has_the_shortest_lead() -> None:
    """1 m and 0.5 m of 0.64 mΩ/m: the first has 0.64 mΩ there and back, the others 1.28 mΩ."""
    lead = Run(name="lead", conductor=good_conductor(115.0, 0.64), length="1 m", shortest="0.5 m")
    made = design(good_build(cabling=good_cabling(module_lead=lead)))
    found = pack_strings(made).strings.lead
    assert found[1] - found[0] == pytest.approx(0.00064)
    assert found[2] == found[1]


def test_links_stand_in_series_with_the_lead() -> None:
    """One link of 0.2 m between two modules, one way: 0.128 mΩ."""
    link = Run(name="link", conductor=good_conductor(115.0, 0.64), length="0.2 m")
    made = design(good_build(cabling=good_cabling(link=link)))
    more = pack_strings(made).strings.lead - pack_strings(GOOD).strings.lead
    assert more == pytest.approx(0.000128)


def test_fuses_in_both_poles_count_twice() -> None:
    made = design(with_safeguards(both_poles=True))
    size = string_fuse(made)
    assert size is not None
    assert pack_strings(made).strings.lead == pytest.approx(0.00128 + 2 * FUSE_DROP / size + JOINTS)


def test_what_nobody_said_of_the_cabling_is_said_to_be_assumed() -> None:
    packed = pack_strings(design(good_build(cabling=Cabling())))
    assert packed.strings.lead == pytest.approx(JOINTS)  # without a cable no fuse is named
    assert packed.strings.plus == pytest.approx(0.0)
    assert any("no leads" in words for words in packed.assumed)
    assert any("bars without resistance" in words for words in packed.assumed)


def test_one_string_needs_no_bar() -> None:
    strings = pack_strings(design(with_pack(strings=1))).strings
    assert strings.plus.size == 0
    assert strings.lead.size == 1


def test_a_design_without_protection_has_no_fuse() -> None:
    assert string_fuse(attrs.evolve(GOOD, protection=None)) is None


def test_a_resistance_curve_is_followed() -> None:
    curve = ResistanceCurve(soc=[0.1, 0.5, 0.9], ohms=[0.016, 0.010, 0.012])
    packed = pack_strings(design(with_module(resistance_curve=curve)))
    ohms = packed.strings.ohms[0]
    assert ohms[0] == pytest.approx(0.032)  # the nearest that was tested
    assert ohms[100] == pytest.approx(0.020)
    assert ohms[140] == pytest.approx(0.022)
    assert not any("every state of charge" in words for words in packed.assumed)


def test_assumed_modules_are_said() -> None:
    curve = attrs.evolve(OXIDE.ocv, basis="assumed")
    module = good_module(basis="assumed", ocv=curve)
    build = good_build(pack=good_pack(module=module), policy=Policy())
    said = pack_strings(design(build)).assumed
    assert "open-circuit voltage curve" in said
    assert "resistance over hours against that over 10 s" in said
    assert "resistance of the modules" in said
    assert "capacity of the modules" in said


def test_no_growth_over_hours_leaves_no_branch() -> None:
    strings = pack_strings(design(with_policy(long_resistance="100 %"))).strings
    assert strings.rc_ohms.shape == (3, 0)


def test_a_weak_module_ends_its_string_early() -> None:
    """One of two modules with half the capacity and three times the resistance: 30 Ah, 40 mΩ.

    Level when full. When the weak one is empty (3.0 V a cell) the other has given 30 of 60 Ah and
    stands at 50 %: 3.717 V a cell. 7 · (3.0 + 3.717) = 47.019 V.
    """
    scales = [StringScale(), StringScale(capacity=0.5, resistance=3.0, modules=1), StringScale()]
    strings = pack_strings(GOOD, scales=scales).strings
    assert strings.coulombs / 3600 == pytest.approx([60, 30, 60])
    assert strings.ohms[:, 0] == pytest.approx([0.020, 0.040, 0.020])
    assert strings.ocv[1, 0] == pytest.approx(47.019)
    assert strings.ocv[1, -1] == pytest.approx(58.8)
    assert (np.diff(strings.ocv, axis=1) > 0).all()


def test_a_better_module_does_not_fill_its_string() -> None:
    """Twice the capacity in one of two modules: the string still ends with the other, at 60 Ah."""
    scales = [StringScale(capacity=2.0, modules=1), StringScale(), StringScale()]
    strings = pack_strings(GOOD, scales=scales).strings
    assert strings.coulombs / 3600 == pytest.approx([60, 60, 60])
    assert strings.ocv[0, 0] == pytest.approx(47.019)


def test_a_whole_string_may_differ_and_one_may_be_open() -> None:
    scales = [StringScale(capacity=0.9, resistance=1.5), StringScale(is_open=True), StringScale()]
    strings = pack_strings(GOOD, scales=scales).strings
    assert strings.coulombs[0] / 3600 == pytest.approx(54)
    assert strings.ohms[0] == pytest.approx(0.030)
    assert strings.lead[1] > 1e8


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(DescriptionError, match="3 strings need 3 scales, got 2"):
        pack_strings(GOOD, scales=[StringScale()] * 2)
    with pytest.raises(DescriptionError, match="cannot differ"):
        pack_strings(GOOD, scales=[StringScale(modules=3)] * 3)
    with pytest.raises(DescriptionError, match="capacity must be above 0"):
        StringScale(capacity=0.0)
    with pytest.raises(DescriptionError, match="resistance must be above 0"):
        StringScale(resistance=float("nan"))
    unknown = design(with_module(resistance=None))
    with pytest.raises(DescriptionError, match="resistance is not known"):
        pack_strings(unknown)


def test_mains_side_by_side() -> None:
    """One run of 1.5 m; two alike inverters halve it; one unknown counts as none."""
    one = main_cable(GOOD)
    run = GOOD.build.cabling.main
    assert run is not None
    assert one == pytest.approx(float(run.resistance.m))
    two = design(good_build(inverters=(good_inverter(count=2),)))
    assert main_cable(two) == pytest.approx(one / 2, rel=0.5)  # the run may have grown
    assert main_cable(design(good_build(cabling=Cabling(bar=good_bar())))) == 0.0
