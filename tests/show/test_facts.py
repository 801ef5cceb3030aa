"""What the nouns of wiring, protection and the solar side tell, each row with how it is known."""

import attrs
import pytest

from evpack.base.basis import Basis
from evpack.design import design
from evpack.load.library import example
from evpack.load.sheet import parse_sheet, read_sheet
from evpack.show.assumed import assumed_in
from evpack.show.facts import build_parts, facts, not_chosen, runs_of
from evpack.show.gather import worked_of
from evpack.show.text import as_text

SPLIT = read_sheet(example("split-house"))
BARN = read_sheet(example("wether-barn"))


def told(noun: object) -> dict[str, tuple[str, Basis | None]]:
    return {row.label: (row.value, row.basis) for row in facts(noun).rows}


def test_a_build_tells_all_that_is_described() -> None:
    titles = [facts(part).title for part in build_parts(BARN)]
    for title in (
        "south roof",
        "Cabling",
        "bus bars",
        "Protection",
        "battery disconnect",
        "emergency disconnect",
        "precharge",
    ):
        assert title in titles
    page = as_text(BARN)
    for words in ("charger to bar", "2 AWG, 2 m one way", "outside, beside the lean-to's door"):
        assert words in " ".join(page.split())


def test_what_is_not_fitted_or_unknown_has_no_rows_of_its_own() -> None:
    guards = attrs.evolve(BARN.safeguards, disconnect="none", precharge=None)
    build = attrs.evolve(BARN, safeguards=guards, arrays="none")
    titles = [facts(part).title for part in build_parts(build)]
    assert not {"battery disconnect", "precharge", "south roof"} & set(titles)
    rows = told(guards)
    assert rows["battery disconnect"][0] == "none fitted"
    assert rows["precharge"][0] == "not known"
    assert rows["emergency disconnect"][0] == "emergency disconnect"
    assert rows["fuses in both poles"] == ("no", Basis.CHOSEN)


def test_an_array() -> None:
    rows = told(SPLIT.solar_arrays[0])
    assert rows["feeds"][0] == "east charger"
    assert rows["panels"][0] == "6 panels: 3 in series, 2 in parallel"
    assert rows["open-circuit voltage of a panel"] == ("37.5 V", Basis.DATASHEET)
    assert rows["rated power of all"][0] == "2460 W"
    assert rows["change of its open-circuit voltage"] == ("-0.1 V/K", Basis.DATASHEET)
    bare = attrs.evolve(
        SPLIT.solar_arrays[0], coefficient=None, power_coefficient=None, power=None, on_input="A"
    )
    rows = told(bare)
    assert rows["on input"][0] == "A"
    assert rows["change of its open-circuit voltage"][0] == "by the table for crystalline silicon"
    assert "rated power of all" not in rows
    unsaid = attrs.evolve(bare, crystalline=None)
    assert told(unsaid)["change of its open-circuit voltage"][0] == "not known"


def test_cabling_tells_every_run_and_the_bar() -> None:
    rows = told(SPLIT.cabling)
    assert rows["to inverter on leg 2"][0].startswith("70 mm2, 2.6 m one way")
    assert rows["bus bars"] == ("50 × 5 mm for each pole, 0.6 m long", Basis.CHOSEN)
    assert rows["module to module"][0] == "none, or within the modules' resistance"
    without = attrs.evolve(SPLIT.cabling, bar=None, charger=None, own={})
    assert told(without)["charger to bar"][0] == told(without)["bus bars"][0] == "not described"
    assert len(runs_of(SPLIT.cabling)) == len(runs_of(without)) + 2


def test_a_run_whose_size_is_left_open() -> None:
    main = SPLIT.cabling.main
    assert main is not None
    left = attrs.evolve(main, left_open=True, conductor=main.alternatives[-1])
    found = attrs.evolve(main, left_open=True)
    assert [not_chosen(run) for run in (main, left, found)] == [False, True, False]
    assert told(main)["conductor"][0] == "70 mm2"
    assert told(left)["conductor"][0] == "size left to evpack"
    assert "carries for good" not in told(left), "what only stands in tells nothing"
    assert told(found)["conductor"][0] == "70 mm2, chosen by evpack"
    cabling = attrs.evolve(SPLIT.cabling, main=left)
    assert told(cabling)["bar to inverter"][0].startswith("size left to evpack, 1.6 m one way")


def test_the_shortest_is_told_where_they_differ() -> None:
    main = SPLIT.cabling.main
    assert main is not None
    uneven = attrs.evolve(main, parallel=2, shortest="1.2 m")
    assert told(uneven)["the shortest of them"] == ("1.2 m", Basis.CHOSEN)


def test_a_conductor_tells_what_its_insulation_stands() -> None:
    """IEC 60364-4-43, from memory: k = 143 for copper in XLPE, which starts from 90 degC."""
    main = SPLIT.cabling.main
    assert main is not None
    rows = told(main.conductor)
    assert rows["k of I²t = k²S²"][0] == "143 A √s/mm²"
    assert (rows["which brings it to"][0], rows["in an ambient of"][0]) == ("90 °C", "35 °C")


def test_bars_of_several() -> None:
    bar = SPLIT.cabling.bar
    assert bar is not None
    rows = told(attrs.evolve(bar, count=2, carries=None))
    assert rows["copper"][0] == "2 × 50 × 5 mm for each pole"
    assert rows["one bar carries for good"] == ("not known", None)
    assert told(bar)["in a box"] == ("yes", Basis.CHOSEN)


def test_a_breaker_and_a_fuse() -> None:
    guards = SPLIT.safeguards
    rows = told(guards.charger_fuse)
    assert rows["DC voltage, 2 poles in series"] == ("120 V", Basis.DATASHEET)
    assert rows["breaks one way only"][0] == "no"
    assert rows["most I²t that it lets through"][0] == "300 kA²s"
    rows = told(guards.string_fuse)
    assert rows["characteristic"][0] == "gG"
    assert "breaks one way only" not in rows
    protection = told(guards)
    assert protection["charger fuse"][0] == "DC breaker of two poles"
    assert protection["array fuse"][0] == "the first family that fits"
    assert told(attrs.evolve(guards, array_fuse="gpv"))["array fuse"][0] == "gpv"


def test_switches_and_precharge() -> None:
    assert told(BARN.safeguards.disconnect)["may be opened under load"] == ("yes", Basis.DATASHEET)
    assert told(BARN.safeguards.emergency_off)["stops the inverters"] == ("yes", Basis.CHOSEN)
    assert told(BARN.safeguards.precharge)["resistor"] == ("47 Ω", Basis.DATASHEET)
    left = attrs.evolve(BARN.safeguards.precharge, resistance=None)
    assert told(left)["resistor"][0] == "left to evpack"


def test_new_rows_of_known_nouns() -> None:
    assert told(SPLIT.inverters[0])["feeds leg"][0] == "1"
    assert "feeds leg" not in told(BARN.inverters[0])
    assert told(SPLIT.load)["on the larger leg"] == ("60 %", Basis.CHOSEN)
    assert "on the larger leg" not in told(BARN.load)
    assert told(BARN.site)["coldest air outside"] == ("-12 °C", Basis.CHOSEN)
    assert told(BARN.pack)["pole joined to earth"] == ("none", Basis.CHOSEN)
    assert told(BARN.chargers[0])["most voltage at its solar input"] == ("150 V", Basis.DATASHEET)
    assert "most voltage at its solar input" not in told(BARN.inverters[0].charger)


def test_a_curve_is_as_well_known_as_its_record() -> None:
    assert told(BARN.pack.module)["resistance against charge"][1] is Basis.MEASURED
    sheet = BARN.sheet.replace('basis = "measured"\n\n[pack]', "\n[pack]")
    module = parse_sheet(sheet).pack.module
    assert told(module)["resistance against charge"][1] is Basis.ASSUMED


def test_what_was_assumed_of_the_new_nouns_is_among_what_to_confirm() -> None:
    sheet = SPLIT.sheet.replace('name = "east roof"\nfeeds = "east charger"\nbasis = "datasheet"',
                                'name = "east roof"\nfeeds = "east charger"')  # fmt: skip
    sheet = sheet.replace("circuits = 2 ", "# circuits = 2 ")
    sheet = sheet.replace('polarised = false\nbasis = "datasheet"', "polarised = false")
    rows = {
        (row.of, row.what.split(",")[0]) for row in assumed_in(design(parse_sheet(sheet))).confirm
    }
    assert ("east roof", "short-circuit current of a panel") in rows
    assert ("west roof", "short-circuit current of a panel") not in rows
    assert ("array cable", "carries for good") in rows
    assert ("main cable", "carries for good") not in rows
    assert ("battery disconnect", "DC voltage") in rows


@pytest.mark.parametrize("build", [SPLIT, BARN], ids=lambda build: build.title)
def test_every_explained_number_is_gathered(build: object) -> None:
    found = design(build)
    names = {number.name for number in worked_of(found)}
    assert found.protection is not None
    for circuit in found.protection.circuits:
        assert circuit.carries is not None
        assert circuit.carries.name in names
    for side in found.solar:
        assert {line.name for line in side.lines()} <= names
    for need in found.protection.needs:
        assert {line.name for line in need.lines} <= names
    for plan in found.protection.precharge:
        assert {line.name for line in (*plan.with_it, *plan.without)} <= names
    assert {band.time_constant.name for band in found.protection.faults} <= names
