"""What a noun is not made for is refused as it is typed, with what is needed instead."""

import attrs
import pytest

import evpack
from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.fitted import NOT_FITTED
from evpack.describe.cabling import Cabling, Conductor, Run
from evpack.describe.charger import Charger
from evpack.describe.checked import need
from evpack.describe.inverter import Inverter
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy
from evpack.describe.safeguards import FuseFamily
from evpack.describe.site import Site
from evpack.load.library import chemistry, example
from evpack.load.sheet import read_sheet
from evpack.outcome.design import Verdict

BUILD = read_sheet(example("wether-barn"))
PACK, MODULE = BUILD.pack, BUILD.pack.module
WRONG = [
    (
        MODULE,
        {"chemistry": "nmc"},
        r"chemistry: a Chem.+evpack.chemistry\('nmc'\); got 'nmc'",
    ),
    (MODULE, {"name": 5}, "name: a text in quotes is needed; got 5"),
    (MODULE, {"resistance_method": None}, "resistance_method: a text in quotes is needed"),
    (MODULE, {"ocv": [3.0, 4.2]}, "ocv: an OcvCurve is needed, such as that of a bench record"),
    (
        PACK,
        {"module": "pouch-7s"},
        r"module: a Module .+entry\('pouch-7s'\); got 'pouch-7s'",
    ),
    (PACK, {"monitoring": True}, "monitoring: a Monitoring or 'none' is needed, such as Monit"),
    (BUILD, {"pack": MODULE}, "pack: a Pack is needed, .+; got <Module '7-cell pouch module'"),
    (BUILD, {"load": "1 kW"}, r"load: a Load .+such as Load\(continuous='1 kW'\); got '1 kW'"),
    (BUILD, {"title": 5}, "title: a text in quotes is needed; got 5"),
    (BUILD, {"site": None}, r"site: a Site is needed, such as Site\(coldest='4 degC'\); got None"),
    (BUILD, {"invented": "yes"}, "invented: True or False is needed; got 'yes'"),
    (
        BUILD.safeguards,
        {"string_fuse": 5},
        "string_fuse: a FuseFamily or a text in quotes is needed",
    ),
    (BUILD, {"profiles": "gel-48v"}, "profiles: a LeadAcidProfile is needed, such as evpack.lead"),
    (Cabling(), {"module_lead": "16 mm2"}, "module_lead: a Run is needed, .+; got '16 mm2'"),
    (
        BUILD.cabling.main,
        {"conductor": "4 AWG"},
        "conductor: a Conductor is needed, such as",
    ),
    (BUILD.cabling.main.conductor, {"area": "16 mm2"}, "area: a plain number is needed"),
    (BUILD.cabling.main.conductor, {"area": True}, "area: a plain number is needed; got True"),
    (Monitoring(), {"balances": "yes"}, "balances: True or False is needed, or None where nobody"),
    (Inverter(name="a"), {"charger": "yes"}, "charger: a Charger or 'none' is needed"),
    (Charger(name="a", source="solar"), {"source": 5}, "source: a text in quotes is needed"),
    (Charger(name="a", source="solar"), {"left_on": "gel-48v"}, "left_on: a LeadAcidProfile is"),
    (Site(), {"rules": 5}, "rules: a text in quotes is needed; got 5"),
]


@pytest.mark.parametrize(("noun", "wrong", "said"), WRONG, ids=lambda value: str(value)[:40])
def test_another_kind_of_thing_is_refused(
    noun: object, wrong: dict[str, object], said: str
) -> None:
    with pytest.raises(DescriptionError, match=said):
        attrs.evolve(noun, **wrong)


@pytest.mark.parametrize(
    ("noun", "name", "meant"),
    [
        (MODULE, "capcity", "capacity"),
        (Policy(), "reserv", "reserve"),
        (Inverter(name="a"), "windowlow", "window_low"),
        (MODULE.chemistry, "chrge", "charge"),
        (BUILD.load, "continous", "continuous"),
    ],
)
def test_a_basis_names_a_field_that_there_is(noun: object, name: str, meant: str) -> None:
    said = rf"basis: {type(noun).__name__} has no field '{name}' \(did you mean '{meant}'\?\)"
    with pytest.raises(DescriptionError, match=said):
        attrs.evolve(noun, basis={name: "measured"})
    assert attrs.evolve(noun, basis={meant: "measured"}).basis.of(meant) is Basis.MEASURED
    with pytest.raises(DescriptionError, match="has no field"):
        attrs.evolve(noun, basis=noun.basis.but(basis=Basis.MEASURED))


def test_a_chemistrys_basis_may_name_what_its_parts_hold() -> None:
    told = attrs.evolve(chemistry("lfp"), basis={"cut_high": "datasheet", "least": "datasheet"})
    assert told.basis.of("cut_high") is Basis.DATASHEET


def test_none_is_a_word_for_what_is_not_fitted() -> None:
    assert Pack(module=MODULE, modules_in_series=2, monitoring="none").monitoring is NOT_FITTED
    assert Inverter(name="a", charger="none").charger is NOT_FITTED
    assert Inverter(name="a").charger is None


def test_a_text_that_is_too_long_or_in_lines_is_told_in_short() -> None:
    with pytest.raises(DescriptionError) as told:
        need("load", "a\n" * 500, Pack)
    assert len(str(told.value)) < 160


def test_the_steps_say_what_they_take() -> None:
    with pytest.raises(DescriptionError, match=r"decide: a Design .+design\(build\); got <Bu"):
        evpack.decide(BUILD)
    with pytest.raises(DescriptionError, match=r"design: a Build is needed, .+; got <Pack"):
        evpack.design(PACK)


def test_without_an_inverter_a_design_is_made_and_held_up() -> None:
    decision = evpack.decide(
        evpack.design(attrs.evolve(BUILD, inverters=[], chargers=[], arrays=[]))
    )
    assert decision.verdict in {Verdict.CANNOT_TELL_YET, Verdict.DOES_NOT_WORK}


def test_a_fuse_is_described_from_its_print() -> None:
    ratings = {"name": "bolted", "dc_voltage": "80 V", "interrupting": "50 kA", "largest": "400 A"}
    fuse = FuseFamily(**ratings, basis="datasheet")
    assert (fuse.basis, fuse.source) == (Basis.DATASHEET, "fuse-print")
    assert (FuseFamily(**ratings).basis, FuseFamily(**ratings).source) == (
        Basis.ASSUMED,
        "fuse-makers-typical",
    )
    with pytest.raises(DescriptionError, match="basis 'print' is not known"):
        FuseFamily(**ratings, basis="print")


def test_what_is_right_is_held_as_it_was() -> None:
    wire = evpack.conductor("4 AWG")
    assert isinstance(wire, Conductor)
    assert Run(name="a", conductor=wire, length="1 m").conductor is wire
    assert Monitoring(every_cell=False).every_cell is False
    assert attrs.evolve(wire, area=21).area == 21


def test_only_a_field_of_the_noun_can_be_confirmed() -> None:
    sure = MODULE.basis.confirming("capacty")
    with pytest.raises(DescriptionError, match=r"no field 'capacty' \(did you mean 'capacity'"):
        attrs.evolve(MODULE, basis=sure)
