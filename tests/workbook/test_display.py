"""The nouns show themselves where IPython runs, and cost nothing where it does not."""

import importlib
import pkgutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import attrs
import nbformat
import pytest
from IPython.core.formatters import DisplayFormatter

import evpack.describe
import evpack.outcome
from evpack.base.finding import Finding
from evpack.decide import decide
from evpack.design import design
from evpack.load.sheet import example, read_sheet
from evpack.workbook import parts
from evpack.workbook.display import NOUNS, register
from evpack.workbook.kernel import ShareError, run
from evpack.workbook.regions import STYLE

# Parts of nouns, told with the noun that they belong to.
WITHOUT_A_LOOK = {
    "AsBuilt",
    "CommissioningStep",
    "Proof",
    "Candidate",
    "CellLimits",
    "CellTargets",
    "Change",
    "Credible",
    "CurrentRange",
    "HeldBy",
    "Hours",
    "EquipmentList",
    "FuseCatalogue",
    "Kindred",
    "FuseGate",
    "Growth",
    "Groundwork",
    "Demand",
    "Held",
    "OcvCurve",
    "Outgrown",
    "PackSource",
    "Price",
    "Daily",
    "Event",
    "Hunting",
    "Outcome",
    "Series",
    "ResistanceCurve",
    "Thresholds",
    "VoltageRange",
    "Way",
    "Chance",
    "Constant",
    "DrawnMargin",
    "DrawnNumber",
    "LowerTarget",
    "RcBranch",
    "SiteLimit",
    "YearsRange",
}


@pytest.fixture
def formatter() -> DisplayFormatter:
    made = DisplayFormatter()
    register(SimpleNamespace(display_formatter=made, set_custom_exc=lambda *_given: None))
    return made


@pytest.fixture(scope="module")
def decision() -> object:
    return decide(design(read_sheet(example("wether-barn"))))


def test_every_named_noun_exists() -> None:
    for module, names in NOUNS.items():
        for name in names:
            assert attrs.has(getattr(importlib.import_module(f"evpack.{module}"), name))


def test_no_noun_is_forgotten() -> None:
    known = {(f"evpack.{module}", name) for module, names in NOUNS.items() for name in names}
    for package in (evpack.describe, evpack.outcome):
        for info in pkgutil.iter_modules(package.__path__, f"{package.__name__}."):
            for name, found in vars(importlib.import_module(info.name)).items():
                own = isinstance(found, type) and found.__module__ == info.name
                if own and attrs.has(found) and name not in WITHOUT_A_LOOK:
                    assert (info.name, name) in known


def test_nouns_are_shown_with_their_style_and_as_text(
    formatter: DisplayFormatter, decision: object
) -> None:
    build = decision.design.build
    shown = (
        build,
        build.pack.module,
        build.pack,
        build.inverters[0],
        build.chargers[0],
        build.load,
        decision,
        decision.design,
        decision.design.figures.nominal,
        decision.design.settings,
        decision.design.findings[0],
    )
    for noun in shown:
        data, _ = formatter.format(noun)
        assert data["text/html"].startswith(STYLE)
        assert 'class="evp"' in data["text/html"]
        assert "<" not in data["text/plain"].replace("< ", "")[:40]


def test_other_things_are_left_alone(formatter: DisplayFormatter) -> None:
    data, _ = formatter.format(3)
    assert data == {"text/plain": "3"}


def test_every_part_of_a_design_is_shown_or_said_to_be_missing(decision: object) -> None:
    made = decision.design
    bare = attrs.evolve(
        made, figures=None, settings=None, usable=None, sharing=None, protection=None, findings=()
    )
    every = ("figures", "ladder", "findings", "energy", "settings", "protection")
    for name in (*every, "one_line", "faults"):
        assert getattr(parts, name)(made)._repr_html_().startswith(STYLE)
        assert getattr(parts, name)(bare)._repr_html_().startswith(STYLE)
    for name in ("figures", "energy", "settings", "protection", "one_line", "faults"):
        assert "could not be worked out" in getattr(parts, name)(bare).html
    assert "No check was passed" in parts.findings(bare).html


def test_the_verdict_says_what_would_clear_it(decision: object) -> None:
    stop = attrs.evolve(decision, held_by=decision.design.findings[:1])
    assert "What would clear it" in parts.verdict(stop).html
    assert isinstance(stop.held_by[0], Finding)


def test_importing_evpack_loads_nothing_heavy() -> None:
    ask = (
        "import sys, evpack; "
        "print(sorted({'numpy', 'pint', 'IPython', 'ipywidgets', 'attrs'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_importing_evpack_in_ipython_teaches_it_the_looks() -> None:
    ask = (
        "import sys; from IPython.core.interactiveshell import InteractiveShell as S; "
        "s = S.instance(); import evpack; "
        "f = s.display_formatter.formatters['text/html']; "
        "print(('evpack.describe.pack', 'Pack') in f.deferred_printers, 'numpy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "True False"


def test_a_refusal_is_told_in_its_words_and_stops_the_workbook(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('title = "x"\n[pack]\nstrngs = 3\n', "utf-8")
    cells = ("import evpack", 'evpack.read_sheet("mine.toml")', 'print("went on")')
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(c) for c in cells])
    with pytest.raises(ShareError, match="3 things to put right"):
        run(notebook, tmp_path)
    (error,) = notebook.cells[1].outputs
    assert error.output_type == "error"
    assert error.traceback[0].startswith("✕ mine.toml: ")
    assert error.traceback[1] == "    module: the section is missing; it says what one module is"
    assert len(error.traceback) == 4
    assert notebook.cells[2].outputs == []


def test_any_other_error_keeps_its_traceback(tmp_path: Path) -> None:
    cells = ("import evpack", "1 / 0")
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(c) for c in cells])
    with pytest.raises(ShareError, match="ZeroDivisionError"):
        run(notebook, tmp_path)
    assert "Traceback" in "".join(notebook.cells[1].outputs[0].traceback)
