"""The benchmark of the search judges what it says it does."""

from __future__ import annotations

import pytest

from evpack.search import benchmark


def test_the_candidates_are_all_unlike() -> None:
    every = benchmark.wanted(benchmark.CANDIDATES)
    assert len(every) == benchmark.CANDIDATES
    assert len({tuple(str(c.value) for c in changes) for _, changes in every}) == len(every)


def test_it_prints_a_time_for_each_way(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    monkeypatch.setattr(benchmark, "CANDIDATES", 70)
    monkeypatch.setattr(benchmark, "SAMPLE", 10)
    benchmark.main()
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 3
    assert all("ms each" in line for line in lines)
