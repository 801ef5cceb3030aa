"""A fuse between two bounds, or the reason why none fits."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import SIZES, catalogues, good_catalogue, good_family

from evpack.base.units import CURRENT, VOLTAGE, Kind
from evpack.base.worked import Worked
from evpack.describe.fuses import FuseCatalogue, FuseFamily
from evpack.outcome.protection import FuseChoice
from evpack.protect.choice import choose


def worked(value: float | None, kind: Kind = CURRENT) -> Worked | None:
    if value is None:
        return None
    return Worked(name="x", value=value, kind=kind, formula="{x}", inputs=(), source="arithmetic")


def chosen(
    lower: float | None = 60.0,
    upper: float | None = 115.0,
    *,
    volts: float = 58.8,
    fault: float | None = 10_000.0,
    wanted: FuseFamily | str = "",
    better: float | None = None,
    catalogue: FuseCatalogue | None = None,
) -> FuseChoice:
    voltage = worked(volts, VOLTAGE)
    assert voltage is not None
    return choose(
        catalogue or good_catalogue(),
        place="here",
        count=1,
        lower=worked(lower),
        upper=worked(upper),
        voltage=voltage,
        interrupting=worked(fault),
        wanted=wanted,
        guarded_by="[cabling.main]",
        better=worked(better),
    )


@pytest.mark.parametrize(
    ("lower", "upper", "size"),
    [
        (60.0, 115.0, 60.0),  # at its bound
        (60.01, 115.0, 70.0),  # the smallest that carries it
        (108.01, 110.0, 110.0),
        (0.0, 15.0, 15.0),
        (60.01, 69.99, None),  # no standard size lies between 60 and 70 A
        (115.0, 60.0, None),  # bounds that do not overlap
        (401.0, 1000.0, None),  # beyond the largest
    ],
)
def test_the_smallest_size_within_both_bounds(
    lower: float, upper: float, size: float | None
) -> None:
    assert chosen(lower, upper).size == size


def test_no_overlap_takes_no_nearest() -> None:
    found = chosen(115.0, 60.0)
    assert (found.size, found.family) == (None, None)
    assert found.reason.startswith("No fuse fits")
    assert found.change == (
        "Use conductors and links that carry 125 A or more, or more strings, or a smaller inverter."
    )
    assert chosen(401.0, 1000.0).change == "Split the current over more strings or circuits."


@pytest.mark.parametrize(
    ("better", "size"), [(75.0, 80.0), (115.0, 60.0), (200.0, 60.0), (10.0, 60.0)]
)
def test_a_better_lower_bound_is_met_where_it_can_be(better: float, size: float) -> None:
    assert chosen(60.0, 110.0, better=better).size == size


@pytest.mark.parametrize(
    ("unknown", "words", "say"),
    [
        (
            {"lower": None},
            "the current it carries",
            "the inverter's output, efficiency, idle draw and window",
        ),
        ({"upper": None}, "what it has to guard", "[cabling.main]"),
        ({"fault": None}, "the fault current", "the resistance of the modules"),
        (
            {"upper": None, "fault": None},
            "what it has to guard and the fault current",
            "[cabling.main]; the resistance of the modules",
        ),
    ],
)
def test_an_unknown_names_no_size(unknown: dict[str, Any], words: str, say: str) -> None:
    found = chosen(**unknown)
    assert found.size is None
    assert found.reason == f"Cannot tell yet, for want of: {words}."
    assert found.change == f"Say in the build sheet: {say}."


@pytest.mark.parametrize(
    ("family", "words"),
    [
        # 58 V fuses fail a full pack of 14 oxide cells at 58.8 V.
        ({"dc_voltage": "58 V"}, "58 V DC is less than 58.8 V"),
        ({"interrupting": "9.9 kA"}, "it interrupts 9900 A, not 10 kA"),
        ({"largest": "50 A"}, "it ends at 50 A"),
        (
            {"dc_voltage": "32 V", "largest": "50 A"},
            "32 V DC is less than 58.8 V and it ends at 50 A",
        ),
    ],
)
def test_a_family_that_falls_short_is_refused(family: dict[str, str], words: str) -> None:
    for found in (
        chosen(wanted=good_family(**family)),
        chosen(catalogue=good_catalogue(good_family(**family))),
    ):
        assert found.size is None
        assert words in found.reason


def test_of_many_families_only_the_nearest_is_told() -> None:
    # At 58.8 V and 10 kA: "near" stands the voltage and breaks most; "strong" breaks more at 32 V.
    near, weak, strong = (
        good_family(key="near", name="the near one", interrupting="9 kA"),
        good_family(key="weak", name="the weak one", interrupting="5 kA"),
        good_family(key="strong", name="the strong one", dc_voltage="32 V"),
    )
    found = chosen(catalogue=good_catalogue(weak, near, strong))
    assert found.reason == (
        "No fuse fits: the near one: it interrupts 9000 A, not 10 kA. None of the 3 families held "
        "does."
    )
    assert "58.8 V DC or more and that it interrupts 10 kA or more" in found.change


def test_the_first_family_that_will_do_is_taken() -> None:
    weak, strong, other = (
        good_family(key="weak", dc_voltage="58 V"),
        good_family(key="strong"),
        good_family(key="other"),
    )
    found = chosen(catalogue=good_catalogue(weak, strong, other))
    assert found.family is strong


def test_a_family_asked_for_by_key_is_taken_or_nothing() -> None:
    two = good_catalogue(good_family(key="a"), good_family(key="b"))
    assert chosen(catalogue=two, wanted="b").family is two.families[1]
    missing = chosen(catalogue=two, wanted="c")
    assert missing.size is None
    assert "the family 'c' is not in the catalogue (a, b)" in missing.reason


amperes = st.floats(0.1, 600.0)


@given(
    bounds=st.tuples(amperes, amperes),
    better=st.none() | amperes,
    volts=st.floats(10.0, 500.0),
    fault=st.floats(100.0, 50_000.0),
    catalogue=catalogues(),
)
def test_no_fuse_is_named_that_breaks_a_bound(
    bounds: tuple[float, float],
    better: float | None,
    volts: float,
    fault: float,
    catalogue: FuseCatalogue,
) -> None:
    lower, upper = bounds
    found = chosen(lower, upper, volts=volts, fault=fault, better=better, catalogue=catalogue)
    if found.size is None:
        assert found.family is None
        assert found.change
        return
    assert found.family is not None
    assert found.size in SIZES
    assert lower <= found.size <= upper
    assert found.family.dc_voltage.m >= volts
    assert found.family.interrupting.m >= fault
    assert found.family.largest.m >= found.size
