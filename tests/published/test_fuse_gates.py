"""Published, from memory: the gates of gG fuse-links by IEC 60269-1. Nobody here saw the table.

Cells typed anew, and what the standard's own way of making the table implies: two steps up the
series of sizes, which is 1.6 : 1, a link holds what melts the smaller one.
"""

from itertools import pairwise

import pytest

from evpack.describe.safeguards import FuseGate
from evpack.load.tables import fuse_catalogue

GATES = {gate.rating: gate for gate in fuse_catalogue("iec").gates}


@pytest.mark.parametrize(
    "printed",
    [
        (16, 33, 65, 85, 150, 0.3, 1.0),
        (25, 52, 110, 150, 260, 1.0, 3.0),
        (32, 75, 150, 200, 350, 1.8, 5.0),
        (63, 160, 320, 450, 820, 9.0, 27.0),
        (100, 290, 580, 820, 1450, 27.0, 86.0),
        (160, 460, 950, 1450, 2590, 86.0, 250.0),
        (200, 610, 1250, 1910, 3420, 140.0, 400.0),
        (250, 750, 1650, 2590, 4500, 250.0, 760.0),
        (400, 1420, 2840, 4500, 8060, 760.0, 2250.0),
        (630, 2200, 5100, 8060, 14140, 2250.0, 7500.0),
        (1250, 5000, 13000, 19000, 35000, 13700.0, 47000.0),
    ],
    ids=lambda row: f"{row[0]} A",
)
def test_gates(printed: tuple[float, ...]) -> None:
    rating, *amperes, least, most = printed
    gate = GATES[rating]
    assert [gate.holds_10s, gate.melts_5s, gate.holds_100ms, gate.melts_100ms] == amperes
    assert gate.melting == pytest.approx(1000 * least)  # printed in kA²s
    assert gate.clearing == pytest.approx(1000 * most)


def test_the_sizes_of_the_table() -> None:
    sizes = "16 20 25 32 40 50 63 80 100 125 160 200 250 315 400 500 630 800 1000 1250"
    assert list(GATES) == [float(size) for size in sizes.split()]
    assert set(GATES) < set(fuse_catalogue("iec").sizes)


@pytest.mark.parametrize("gate", GATES.values(), ids=lambda gate: f"{gate.rating:g} A")
def test_what_a_link_holds_lies_below_what_melts_it(gate: FuseGate) -> None:
    assert 1.6 * gate.rating < gate.holds_10s < gate.melts_5s < gate.melts_100ms
    assert gate.holds_10s < gate.holds_100ms < gate.melts_100ms
    assert gate.melting < gate.clearing
    # Melting in 0.1 s takes no less I²t than melting in 0.01 s.
    assert gate.melts_100ms**2 * 0.1 > gate.melting


@pytest.mark.parametrize(
    "field", ["holds_10s", "melts_5s", "holds_100ms", "melts_100ms", "melting", "clearing"]
)
def test_gates_rise_with_the_rating(field: str) -> None:
    values = [getattr(gate, field) for gate in GATES.values()]
    assert all(low < high for low, high in pairwise(values))


TWO_UP = list(zip(list(GATES.values()), list(GATES.values())[2:], strict=False))


@pytest.mark.parametrize(("small", "large"), TWO_UP, ids=lambda gate: f"{gate.rating:g} A")
def test_links_at_1_6_to_1_are_selective(small: FuseGate, large: FuseGate) -> None:
    assert large.rating / small.rating == pytest.approx(1.6, rel=0.03)
    assert small.melts_100ms <= large.holds_100ms
    assert small.clearing <= large.melting
