"""Everything a person needs in plain Python is reachable from evpack, and reads well there."""

import ast
import json
from pathlib import Path

import attrs
import pytest

import evpack
from evpack.base.errors import EvpackError
from evpack.load.places import workbooks_dir
from evpack.outcome.design import Verdict

CELLS = json.loads((workbooks_dir() / "plain-python.ipynb").read_text(encoding="utf-8"))["cells"]
CODE = ["".join(cell["source"]) for cell in CELLS if cell["cell_type"] == "code"]
SHOWN = {
    *("Build", "Cabling", "Charger", "FuseFamily", "Inverter", "Load", "Module", "Monitoring"),
    *("Pack", "Policy", "Run", "Site", "as_text", "charger_entry", "chemistry", "conductor"),
    *("data_dir", "decide", "design", "lead_acid_profile", "library", "module_entry"),
    "read_bench_record",
}


@pytest.fixture(scope="module")
def made() -> dict[str, object]:
    """Return the names that the workbook leaves behind, run as a script."""
    names: dict[str, object] = {}
    exec("\n".join(CODE), names)  # noqa: S102  our own workbook
    return names


def test_the_workbook_comes_to_a_verdict(made: dict[str, object]) -> None:
    assert made["decision"].verdict is Verdict.WORKS_WITH_LIMITS
    assert evpack.decide(evpack.design(made["unsaid"])).verdict is Verdict.CANNOT_TELL_YET


def test_the_workbook_shows_every_noun_a_person_states() -> None:
    everything = "\n".join("".join(cell["source"]) for cell in CELLS)
    assert {name for name in SHOWN if f"{name}(" in everything} == SHOWN


def test_its_cells_are_short_and_define_nothing() -> None:
    assert max(len(code.splitlines()) for code in CODE) <= 30
    kinds = {type(node) for code in CODE for node in ast.walk(ast.parse(code))}
    assert not kinds & {ast.FunctionDef, ast.ClassDef, ast.Lambda}


def test_a_bench_record_gives_the_modules_numbers(made: dict[str, object]) -> None:
    module, tested = made["module"], made["tested"]
    assert module.capacity.m == pytest.approx(tested.capacity.m)
    assert module.curve is made["reading"].curve
    assert module.basis.of("capacity") == "measured"


@pytest.mark.parametrize(
    ("fetch", "key", "noun"),
    [
        ("module_entry", "pouch-7s", "Module"),
        ("inverter_entry", "class-48v", "Inverter"),
        ("charger_entry", "solar-60a-48v", "Charger"),
        ("lead_acid_profile", "flooded-48v", "LeadAcidProfile"),
        ("chemistry", "lfp", "Chemistry"),
    ],
)
def test_what_the_library_lists_can_be_fetched(fetch: str, key: str, noun: str) -> None:
    assert key in {entry.key for entry in evpack.library()}
    got = getattr(evpack, fetch)(key)
    assert isinstance(got, getattr(evpack, noun))
    assert attrs.evolve(got, name="mine").name == "mine"
    with pytest.raises(EvpackError, match=f"did you mean '{key}'"):
        getattr(evpack, fetch)(key[:-1])


def test_a_decision_is_told_in_full_without_a_notebook(made: dict[str, object]) -> None:
    text = evpack.as_text(made["decision"])
    assert "WORKS WITH LIMITS" in text
    assert "What to enter on each device" in text
    assert "array(" not in text


def test_a_page_needs_a_sheet(made: dict[str, object], tmp_path: Path) -> None:
    with pytest.raises(EvpackError, match=r"takes the path of a build sheet.+got <Build"):
        evpack.share(made["build"], tmp_path / "page.html")
