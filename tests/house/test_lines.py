"""A line of the settings sheet is found by what it is, and no number is read out of its text."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import evpack
from evpack.design import design
from evpack.load.sheet import example, read_sheet
from evpack.outcome.settings import Line

HOUSE = Path(evpack.__file__).parent
# Words that mean other things elsewhere too.
_COMMON = {Line.CAPACITY, Line.EQUALISE, Line.COMPENSATION, Line.EFFICIENCY}
# Labels of a picture and of the fields of a device, which find nothing.
_TOLD = {"describe/operation.py"}


def texts(path: Path) -> list[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    ]


@pytest.mark.parametrize(
    "path", sorted(HOUSE.rglob("*.py")), ids=lambda path: str(path.relative_to(HOUSE))
)
def test_no_line_is_named_by_its_words(path: Path) -> None:
    name = str(path.relative_to(HOUSE))
    if name == "outcome/settings.py" or name in _TOLD:
        return
    words = {line.value for line in Line} - {line.value for line in _COMMON}
    assert sorted(words & set(texts(path))) == []


_ENTRY = re.compile(r"\.entry\b\s*(?:==|!=|\.split|\.removesuffix|\.endswith|\.startswith)")


def test_nothing_is_read_out_of_an_entry() -> None:
    # Whether a device is off is said by its act; "off" alone is what the words of a step hang on.
    found = {
        str(path.relative_to(HOUSE)): _ENTRY.findall(path.read_text(encoding="utf-8"))
        for path in HOUSE.rglob("*.py")
    }
    told = {name: hits for name, hits in found.items() if hits}
    # A reading is typed as the entry is told, with "/cell"; a step that is done names its entry.
    assert set(told) == {"load/as_built.py", "commission/closing.py"}


@pytest.mark.parametrize("name", ["wether-barn", "twelve", "left-on", "split-house"])
def test_what_an_entry_shows_is_what_is_written(name: str) -> None:
    sheet = design(read_sheet(example(name))).settings
    assert sheet is not None
    shown = [line for device in sheet.devices for line in device.lines if line.shows is not None]
    assert len(shown) > 6
    for line in shown:
        number, _, unit = line.entry.partition(" ")
        times = {"mV": 1e-3, "%": 1e-2}.get(unit, 1.0)
        assert float(number) * times == pytest.approx(line.shows, rel=1e-12)
        assert line.worked is not None
        assert line.shows == pytest.approx(line.worked.value, rel=6e-3)  # to three digits
