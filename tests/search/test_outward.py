"""A search that looks before it judges finds what one finds that judges everything in full."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

import attrs
import pytest
from strategies import (
    good_build,
    good_cabling,
    good_charger,
    good_conductor,
    good_inverter,
    good_load,
    good_module,
    good_pack,
    solar_charger,
    with_charger,
    with_inverter,
    with_pack,
)
from ways_made import eight_wrong

from evpack.base.finding import Severity
from evpack.check.asked import at_ends, opens
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.describe.equipment import EquipmentList
from evpack.design import design
from evpack.outcome.search import Candidate, WaysOut
from evpack.search import ways
from evpack.search.changes import changed
from evpack.search.judge import judge_all
from evpack.search.levers import Ladder, ladders
from evpack.search.outward import Found, Outward, Step, helps
from evpack.search.ways import find_ways

KEPT, MORE = 12, 2


class Exhaustive(Outward):
    """Every step on top of the best so far, each candidate in full, whether it clears or not."""

    def with_steps(self, more: Sequence[Step]) -> Found:
        self.steps += more
        singles = every = tried = self.in_full(more)
        for _ in range(MORE):
            if any(candidate.go for candidate in every):
                break
            tried = self.in_full(
                [
                    candidate.changes + step
                    for candidate in self.best(tried)
                    for step in self.steps
                    if not {c.place for c in step} & {c.place for c in candidate.changes}
                ]
            )
            every += tried
        return Found(singles=singles, every=every)

    def in_full(self, changes: Sequence[Step]) -> tuple[Candidate, ...]:
        wanted = [("; ".join(c.says for c in these), these) for these in changes]
        return judge_all(self.build, wanted, whole=True)

    def best(self, tried: Sequence[Candidate]) -> list[Candidate]:
        now, seen = self.now, {}
        for c in tried:
            if len(c.stops) < len(now.stops) or helps(c, now):
                seen.setdefault((frozenset(x.place for x in c.changes), c.keys), c)
        return sorted(seen.values(), key=lambda c: (len(c.stops), len(c.keys)))[:KEPT]


def thin_main() -> Run:
    sizes = tuple(
        good_conductor(amps, 0.64 * 33.6 / area, area)
        for amps, area in ((55.0, 8.4), (115.0, 33.6), (195.0, 67.4))
    )
    return Run(name="main", conductor=sizes[0], length="1.5 m", alternatives=sizes)


def weak_modules() -> Build:
    """As in `test_ways`: more strings, and then another disconnect."""
    return good_build(pack=good_pack(module=good_module(discharge_limit="15 A", available=6)))


# Of each: what clears it, or only some of it.
BUILDS: dict[str, Callable[[], Build]] = {
    "a string too tall": lambda: with_pack(modules_in_series=3, strings=2),
    "two things wrong": lambda: good_build(
        pack=with_pack(modules_in_series=3, strings=2).pack,
        cabling=good_cabling(main=thin_main()),
    ),
    "more strings and more": weak_modules,
    "a peak too high": lambda: good_build(
        load=good_load(peak="20 kW"),
        inverters=(good_inverter(continuous="3.4 kW", surge="20 kW"),),
    ),
    "a charger too strong and one that is not known": lambda: good_build(
        chargers=(good_charger(current="300 A"), solar_charger(equalise_can_be_off=None))
    ),
    # The worse end of what nobody said of a surge stops it, and a lower peak would do.
    "an answer that decides": lambda: good_build(
        pack=good_pack(module=good_module(discharge_limit="60 A", discharge_peak="61 A")),
        inverters=(good_inverter(surge=None),),
        load=attrs.evolve(good_load(), peak=None),
    ),
    "an error that decides": lambda: with_charger(
        accuracy=None, charge_voltage=("58 V", "60 V", "0.1 V")
    ),
    "an inverter that restarts late": lambda: with_inverter(restart="57 V"),
}


def few_rungs(*given: Any) -> Iterator[Ladder]:
    for what, rungs in ladders(*given):
        yield what, (*rungs[:2], *rungs[2:][-1:])


def told(found: WaysOut) -> object:
    """Return what is told of ways, all but the nearest and how many designs it took."""
    return (
        found.to_go,
        [(held.key, offered) for held, offered in found.one_by_one],
        found.note,
    )


@pytest.mark.parametrize("name", BUILDS)
def test_it_finds_what_judging_everything_finds(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the first two rungs and the last of every ladder: in full they take minutes."""
    monkeypatch.setattr(ways, "ladders", few_rungs)
    build = BUILDS[name]()
    quick = find_ways(build, equipment=EquipmentList())
    monkeypatch.setattr(ways, "Outward", Exhaustive)
    every = find_ways(build, equipment=EquipmentList())
    assert not quick.now.go
    assert told(quick) == told(every)
    # It may offer one more, of a kind of which the other takes one that the first makes idle.
    assert all(way in quick.nearest for way in every.nearest)


def test_eight_things_wrong_take_more_than_three_changes() -> None:
    """Both roofs, both chargers' cables, a disconnect and a leg: the nearest leave fewer stops."""
    build = eight_wrong()
    found = find_ways(build)
    assert len(found.now.held_by) == 8
    assert not found.to_go
    assert found.nearest
    for way in found.nearest:
        made = design(changed(build, way.candidate.changes))
        assert made.found_from(Severity.STOP) == way.candidate.stops < found.now.stops
        assert not decide(made).go


def test_what_is_open_is_put_at_its_ends() -> None:
    low, high = at_ends(with_inverter(idle=None, meter_accuracy=None))
    idle = [one.inverters[0].idle for one in (low, high)]
    assert [float(value.m) for value in idle if value is not None] == pytest.approx([3.0, 90.0])
    assert not [*opens(low), *opens(high)]
    stated = good_build()
    assert all(end is stated for end in at_ends(stated))
