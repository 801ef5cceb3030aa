"""A fuse between two bounds, or the reason why none fits."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import SIZES, catalogues, good_catalogue, good_family

from evpack.base.basis import Basis
from evpack.base.units import CURRENT, VOLTAGE, Kind
from evpack.base.worked import Input, Worked
from evpack.describe.safeguards import FuseCatalogue, FuseFamily
from evpack.outcome.protection import FuseChoice
from evpack.protect.choice import choose, sizes_within


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
    guards: tuple[float | None, float | None] = (None, None),
    surely: float | None = None,
    catalogue: FuseCatalogue | None = None,
) -> FuseChoice:
    voltage = worked(volts, VOLTAGE)
    assert voltage is not None
    return choose(
        catalogue or good_catalogue(),
        place="here",
        count=1,
        lower=worked(lower),
        lower_guard=worked(guards[0]),
        upper=worked(upper),
        upper_guard=worked(guards[1]),
        surely=surely,
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


def stands(**amps: float) -> Worked:
    """Return a highest rating by what a fuse guards, each by the symbol of the bounds."""
    inputs = tuple(
        Input(symbol, "x", value, "A", Basis.DATASHEET) for symbol, value in amps.items()
    )
    return Worked(
        name="highest",
        value=min(amps.values()),
        kind=CURRENT,
        formula="{I}",
        inputs=inputs,
        source="arithmetic",
    )


@pytest.mark.parametrize(
    ("upper", "takes"),
    [
        # 115 A are asked for: the next standard size is 125 A.
        (stands(I_main=60.0), "a conductor that carries 125 A or more"),
        (stands(I_lead=110.0, I_joint=200.0, I_link=125.0), "a conductor that carries 125 A or"),
        (stands(I_lead=125.0, I_link=90.0), "module links that stand 125 A (or more strings to"),
        (stands(I_cable=200.0, I_panel=20.0), "panels that allow a fuse of 125 A."),
        (
            stands(I_lead=70.0, I_link=90.0),
            "a conductor that carries 125 A or more and module links that stand 125 A (or more",
        ),
    ],
)
def test_no_overlap_takes_no_nearest_and_says_what_is_too_weak(upper: Worked, takes: str) -> None:
    voltage = worked(58.8, VOLTAGE)
    found = choose(
        good_catalogue(),
        place="here",
        count=1,
        lower=worked(115.0),
        upper=upper,
        voltage=voltage,
        interrupting=worked(1e4),
        wanted="",
        guarded_by="[cabling.main]",
    )
    assert (found.size, found.family) == (None, None)
    assert found.reason.startswith("No fuse fits: to carry the current it must be at least 115 A")
    assert found.change.startswith(f"For a fuse of 125 A it takes {takes}")


def test_between_two_standard_sizes_lies_none() -> None:
    assert chosen(60.01, 69.99).reason == (
        "No fuse fits: it must be at least 60.1 A and at most 69.9 A, and no standard size lies "
        "between."
    )


def test_beyond_the_largest_size_the_current_is_split() -> None:
    assert chosen(401.0, 1000.0).change == (
        "Split the current over more circuits, each with a fuse and a cable of its own."
    )


# --- Our margins: kept where they can be --------------------------------------------------------


@pytest.mark.parametrize(
    ("bounds", "margins", "better", "tried"),
    [
        # Inside both margins; then inside the upper one, the largest first: it opens least early.
        ((97.9, 175.0), (126.7, 175.0), None, [150.0, 175.0, 125.0, 110.0, 100.0]),
        # No size keeps the lower margin and the upper one: guarding goes before carrying.
        ((97.9, 125.0), (126.7, 112.2), None, [110.0, 100.0]),
        # None keeps the upper margin: the bound alone, by which the next standard size may stand.
        ((32.6, 35.0), (50.7, 33.8), None, [35.0]),
        ((60.1, 80.0), (None, 65.0), None, [70.0]),
        # One string out asks for more, and is given it only inside the upper margin.
        ((32.6, 90.0), (50.7, 90.0), 76.1, [80.0, 60.0, 90.0, 70.0, 50.0, 45.0, 40.0, 35.0]),
        ((32.6, 90.0), (50.7, 70.0), 76.1, [60.0, 70.0, 50.0, 45.0, 40.0, 35.0]),
        # A margin looser than the bound takes nothing off it.
        ((60.1, 80.0), (20.0, 500.0), None, [70.0, 80.0]),
        ((97.9, 99.0), (None, None), None, []),
    ],
)
def test_what_is_tried_keeps_as_much_of_our_margins_as_can_be(
    bounds: tuple[float, float],
    margins: tuple[float | None, float | None],
    better: float | None,
    tried: list[float],
) -> None:
    found = sizes_within(
        [float(size) for size in SIZES],
        low=bounds[0],
        high=bounds[1],
        low_guard=margins[0],
        high_guard=margins[1],
        better=better,
    )
    assert found == tried


def test_where_the_family_ends_below_our_margin_the_bound_will_do() -> None:
    # 150 A are wished for, 100 A allowed, and the family ends at 125 A: that is nearest.
    short = good_family(largest="125 A")
    found = chosen(97.9, 175.0, guards=(126.7, 175.0), wanted=short)
    assert (found.size, found.family) == (125.0, short)
    # One that ends below either is refused by the size that the bounds allow.
    tiny = good_family(largest="90 A")
    found = chosen(97.9, 175.0, guards=(126.7, 175.0), wanted=tiny)
    assert found.size is None
    assert "it ends at 90 A" in found.reason


# --- A fuse that is there already ---------------------------------------------------------------


@pytest.mark.parametrize("amps", [60.0, 63.0, 115.0])
def test_a_rating_that_is_there_is_kept_where_it_fits(amps: float) -> None:
    # 63 A is no size of this list: what is there need be none.
    there = good_family(rating=f"{amps} A")
    found = chosen(60.0, 115.0, wanted=there, guards=(70.0, 100.0), better=80.0)
    assert (found.size, found.family) == (amps, there)


@pytest.mark.parametrize(
    ("amps", "broken", "would"),
    [
        ("50 A", "is less than 60.1 A, what it must carry", "70 A or 80 A or 90 A would do."),
        ("150 A", "is more than 115 A, what it has to guard", "70 A or 80 A or 90 A would do."),
    ],
)
def test_a_rating_that_is_there_and_does_not_fit_says_which_would(
    amps: str, broken: str, would: str
) -> None:
    found = chosen(60.01, 115.0, wanted=good_family(rating=amps))
    assert (found.size, found.family) == (None, None)
    assert found.reason == f"The fuse that is there, {amps}, does not fit: it {broken}."
    assert found.change == f"{would} Leave rating out to let one be chosen."


def test_a_rating_that_is_there_may_leave_no_size_that_would_do() -> None:
    breaker = good_family(kind="breaker", rating="63 A")
    found = chosen(60.01, 62.0, wanted=breaker)
    assert found.reason.startswith("The breaker that is there, 63 A, does not fit: it is more than")
    assert found.change.startswith("No standard size would do.")


# --- What hangs on a guess ------------------------------------------------------------------------


def test_a_fault_that_hangs_on_a_guess_asks_where_the_guess_decides() -> None:
    # 10 kA if the ohmic part is as little as is credible, 6 kA if it is all: a fuse that breaks
    # 8 kA may do or not.
    found = chosen(fault=10_000.0, surely=6_000.0, wanted=good_family(interrupting="8 kA"))
    assert (found.size, found.asks) == (None, True)
    assert "6000 A" in found.reason
    assert "10 kA" in found.reason
    assert "ohmic_part under [policy]" in found.change
    # One that breaks 5 kA does not in either case, and one that breaks 10 kA does in both.
    found = chosen(fault=10_000.0, surely=6_000.0, wanted=good_family(interrupting="5 kA"))
    assert (found.size, found.asks) == (None, False)
    assert chosen(fault=10_000.0, surely=6_000.0, wanted=good_family(interrupting="10 kA")).size
    # Nor does one that stands the voltage no more.
    low = good_family(interrupting="8 kA", dc_voltage="32 V")
    assert not chosen(fault=10_000.0, surely=6_000.0, wanted=low).asks


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
