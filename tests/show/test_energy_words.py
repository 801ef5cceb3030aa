"""What the usable energy comes to in words: out of the inverter first, and no digit too many."""

from __future__ import annotations

import attrs
import made_up
from strategies import OXIDE, good_build, good_charger, good_inverter, good_module, good_pack

from evpack.base.fitted import NOT_FITTED
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.outcome.design import UsableWindow
from evpack.show.draw.energy import energy_svg
from evpack.show.draw.small_bars import scale_of, small_bars
from evpack.show.figures import energy_words
from evpack.show.html import as_html
from evpack.show.text import as_text
from evpack.show.to_json import to_json
from evpack.workbook.regions import keys_of


def assumed(**changes: object) -> Build:
    """Return the good build on a curve of the library that is only assumed."""
    assert OXIDE.ocv is not None
    mine = attrs.evolve(OXIDE.ocv, basis="assumed")
    kin = attrs.evolve(mine, volts=mine.volts - 0.05)
    library = attrs.evolve(OXIDE, ocv=mine, kindred=(kin,))
    return good_build(pack=good_pack(module=good_module(chemistry=library)), **changes)


def window(build: Build) -> UsableWindow:
    found = design(build).usable
    assert found is not None
    return found


def test_the_energy_of_every_day_comes_first_and_is_that_out_of_the_inverter() -> None:
    first, dc = energy_words(made_up.usable())
    assert first == (
        "7.33 kWh AC at 900 W every day, above the changeover at 20 %; 1.4 kWh kept for outages."
    )
    assert dc == (
        "Before the inverter, DC: 9.7 kWh of 12.1 kWh (80.4 %), from 88 % charged down to 6 % "
        "under 3261 W; what ends it: cut-off."
    )


def test_without_a_changeover_it_is_all_that_can_be_reached() -> None:
    found = window(good_build(inverters=(good_inverter(changeover=NOT_FITTED),)))
    assert found.reachable_ac is not None
    assert energy_words(found)[0] == f"{found.reachable_ac} AC at 500 W out of the inverter."


def test_what_float_leaves_of_it_stands_beside_it() -> None:
    found = window(good_build(chargers=(good_charger(float_can_be_off=False),)))
    assert found.from_float_ac is not None
    assert energy_words(found)[1] == (
        f"{found.from_float_ac} AC of that after hours at float, {100 * found.soc_float:.0f} % "
        "charged: charger floats."
    )


def test_an_assumed_curve_gives_a_band_and_says_why() -> None:
    first, dc, why = energy_words(window(assumed()))
    assert first.startswith("About ")
    assert "about" in dc
    assert why == (
        "The open-circuit curve is only assumed, and cells of one name may have another. A bench "
        "record of a module of your own narrows it down."
    )


def test_no_telling_has_a_digit_that_nobody_knows() -> None:
    made = design(assumed(chargers=(good_charger(float_can_be_off=False),)))
    found = made.usable
    assert found is not None
    every = [str(getattr(found, name)) for name in found.bands if name != "share"]
    exact = [number for number in every if sum(map(str.isdigit, number)) > 2]
    assert len(exact) > 5
    tellings = [
        as_text(decide(made)),
        as_text(decide(made), full=True),
        as_html(decide(made)),
        energy_svg(made),
        small_bars(made, scale_of([made])),
        "".join("".join(key) for key in keys_of(made)),
    ]
    for telling in tellings:
        words = " ".join(telling.replace("\u00a0", " ").split())
        for number in exact:
            assert f" {number}" not in words
            assert f">{number}" not in words
        assert str(found.told.reachable) in words or str(found.told.reachable_ac) in words


def test_json_keeps_its_keys_and_has_new_ones_beside_them() -> None:
    made = design(assumed(chargers=(good_charger(float_can_be_off=False),)))
    found, record = made.usable, to_json(decide(made))["usable"]
    assert found is not None
    for name in ("total", "reachable", "share", "everyday", "reserve", "lost_inside"):
        assert record[name]["value"] > 0
        assert record["between"][name][0]["value"] <= record[name]["value"]
        assert record["between"][name][1]["value"] >= record[name]["value"]
    assert record["between"]["share"][0]["unit"] == ""
    for name in ("reachable", "everyday", "reserve", "from_float"):
        assert 0 < record[f"{name}_ac"]["value"] < record[name]["value"]
    assert record["soc_float"]["value"] < record["soc_top"]["value"]
    assert record["float_by"] == "charger"
    assert record["load_ac"] == {"value": 500.0, "unit": "W"}
    known = to_json(decide(design(good_build())))["usable"]
    assert known["between"] == {}
    assert known["from_float"] is None
    assert known["soc_float"] is None
