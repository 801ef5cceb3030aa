import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable

import pytest
from reading import marks, outside, overlaps

from evpack.decide import decide
from evpack.design import design
from evpack.load.places import data_dir
from evpack.load.sheet import read_sheet
from evpack.outcome.design import Decision
from evpack.outcome.settings import Act
from evpack.show.draw.energy import energy_svg
from evpack.show.draw.ladder import ladder_svg
from evpack.show.draw.one_line import one_line_svg
from evpack.show.html import decision_html
from evpack.show.text import decision_text
from evpack.show.to_json import to_json
from evpack.show.words import VERDICT

SHEETS = sorted((data_dir() / "examples").glob("*.toml"))


@pytest.fixture(params=SHEETS, ids=[sheet.stem for sheet in SHEETS])
def decision(request: pytest.FixtureRequest) -> Decision:
    return decide(design(read_sheet(request.param)))


def test_text(decision: Decision) -> None:
    for full in (False, True):
        text = decision_text(decision, full=full)
        assert VERDICT[decision.verdict].word.upper() in text
        assert max(map(len, text.splitlines())) <= 88
    flat = " ".join(text.split())
    for finding in decision.held_by + decision.limits:
        assert " ".join(finding.detail.split()) in flat


def test_the_answer_fits_on_a_screen(decision: Decision) -> None:
    """Sixty lines; each limit beyond five may take three more, since none is left out."""
    more = max(0, len(decision.limits) - 5) if decision.go else 0
    assert len(decision_text(decision).splitlines()) <= 60 + 3 * more


def test_html(decision: Decision) -> None:
    page = re.sub(r"(<col [^>]*)>", r"\1/>", decision_html(decision))
    ET.fromstring(page)  # noqa: S314  our own page; well formed but for the empty tag


def test_record(decision: Decision) -> None:
    record = to_json(decision)
    assert json.loads(json.dumps(record, allow_nan=False)) == record


@pytest.mark.parametrize("draw", [ladder_svg, energy_svg, one_line_svg])
def test_pictures(decision: Decision, draw: Callable[[Decision], str]) -> None:
    picture = draw(decision)
    assert overlaps(picture) == []
    assert outside(picture) == []


def test_the_ladder_carries_every_voltage_of_the_sheet(decision: Decision) -> None:
    sheet = decision.design.settings
    if sheet is None:
        return
    found = marks(ladder_svg(decision))
    drawn = {
        (column, round(float(mark.get("data-volts")), 2)) for (column, _), mark in found.items()
    }
    build = decision.design.build
    for device in (*build.inverters, *build.all_chargers):
        name = device.name if device.count == 1 else f"{device.count} × {device.name}"
        for line in sheet.device(device.name).lines:
            if line.act is Act.ENTER and line.worked is not None and line.worked.unit == "V":
                assert (name, round(line.worked.value, 2)) in drawn
