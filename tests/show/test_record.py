import json
import math
from collections.abc import Iterator
from typing import Any

import made_up
import pytest

import evpack
from evpack.base.finding import Severity
from evpack.show.to_json import KEYS, number, to_json
from evpack.show.words import CAUTIONS

FINDING_KEYS = {
    "rule",
    "severity",
    "value",
    "limit",
    "margin",
    "unit",
    "says",
    "stands",
    "clause",
    "guarded",
    "about",
    "detail",
    "source",
    "remedy",
    "assumed",
}
LINE_KEYS = {
    "key",
    "name",
    "act",
    "entry",
    "quantity",
    "per_cell",
    "soc_at_rest",
    "soc_under_load",
    "offers",
    "lost",
    "why",
    "where",
}
DECISIONS = {
    "whole": made_up.decision(Severity.CAUTION, Severity.NOTE),
    "held up": made_up.decision(Severity.STOP, Severity.UNKNOWN),
    "bare": made_up.bare(),
    "odd": made_up.without_changeover(),
}


@pytest.fixture(params=DECISIONS.values(), ids=DECISIONS.keys())
def record(request: pytest.FixtureRequest) -> dict[str, Any]:
    return to_json(request.param)


def _walk(thing: object, path: str = "") -> Iterator[tuple[str, Any]]:
    yield path, thing
    if isinstance(thing, dict):
        for key, value in thing.items():
            yield from _walk(value, f"{path}.{key}")
    elif isinstance(thing, list):
        for value in thing:
            yield from _walk(value, f"{path}[]")


def test_the_top_keys_are_the_documented_ones(record: dict[str, Any]) -> None:
    assert tuple(record) == KEYS
    # Only ever added to.
    first = ("verdict", "pack", "usable", "setpoints", "protection", "sharing", "findings")
    assert (*first, "about") == KEYS


def test_it_says_what_a_program_must_pass_on(record: dict[str, Any]) -> None:
    about = record["about"]
    assert set(about) == {"evpack", "title", "invented", "assumed", "caution", "stated"}
    assert about["evpack"] == evpack.__version__
    assert about["title"] == record["pack"]["title"]
    assert about["caution"] == CAUTIONS[0]
    for row in about["assumed"]:
        assert set(row) == {"of", "what", "taken", "confirm"}


def test_every_device_says_whether_its_settings_may_be_entered() -> None:
    for name, withheld in (("whole", False), ("held up", True)):
        devices = to_json(DECISIONS[name])["setpoints"]
        assert devices
        assert all(device["withheld"] is withheld for device in devices)


def test_it_is_json_without_nan(record: dict[str, Any]) -> None:
    assert json.loads(json.dumps(record, allow_nan=False)) == record


def test_every_quantity_has_value_and_unit_and_nothing_else(record: dict[str, Any]) -> None:
    for path, thing in _walk(record):
        if isinstance(thing, dict) and "value" in thing and "findings" not in path:
            assert set(thing) == {"value", "unit"}, path
            assert thing["value"] is None or math.isfinite(thing["value"])


def test_findings_have_their_keys(record: dict[str, Any]) -> None:
    assert record["findings"]
    for finding in record["findings"]:
        assert set(finding) == FINDING_KEYS
        assert finding["severity"] in {"ok", "note", "caution", "unknown", "stop"}


def test_setpoints_have_their_keys() -> None:
    record = to_json(DECISIONS["whole"])
    assert [d["device"] for d in record["setpoints"]] == [
        "Inverter Spare barn",
        "Roof Spare barn",
        "Standby Spare barn",
    ]
    for device in record["setpoints"]:
        assert set(device) == {"device", "withheld", "lines"}
        for line in device["lines"]:
            assert set(line) == LINE_KEYS
    first = record["setpoints"][0]["lines"][0]
    assert first["quantity"] == {"value": 46.3, "unit": "V"}
    assert first["per_cell"] == {"value": pytest.approx(46.3 / 14), "unit": "V"}
    assert first["soc_at_rest"] == {"value": 0.02, "unit": ""}
    assert first["act"] == "enter"
    assert first["key"] == "cut-off"


def test_values_are_those_of_the_decision() -> None:
    decision = DECISIONS["whole"]
    record = to_json(decision)
    assert record["verdict"] == "works with limits"
    assert record["pack"]["highest"] == {"value": 58.8, "unit": "V"}
    assert record["pack"]["discharge_peak"] is None
    assert record["pack"]["cells_in_series"] == 14
    assert record["usable"]["everyday"] == {"value": 8140.0, "unit": "Wh"}
    assert record["protection"]["fuses"][0]["size"] == {"value": 100.0, "unit": "A"}
    assert record["protection"]["fuses"][1]["size"] is None
    assert record["protection"]["faults"][1]["low"] is None
    assert record["sharing"]["one_out"] == {"value": 38.0, "unit": "A"}
    assert record["findings"][0]["margin"] == pytest.approx(3.2)


def test_missing_parts_are_null() -> None:
    record = to_json(DECISIONS["bare"])
    assert record["verdict"] == "does not work"
    for key in ("usable", "setpoints", "protection", "sharing"):
        assert record[key] is None
    assert record["pack"]["cells_in_series"] == 42
    assert record["pack"]["highest"] is None


@pytest.mark.parametrize(
    ("value", "written"),
    [(14 * 4.2, 58.8), (None, None), (math.nan, None), (math.inf, None), (0.0, 0.0)],
)
def test_numbers_lose_their_noise(value: float | None, written: float | None) -> None:
    assert number(value) == written
