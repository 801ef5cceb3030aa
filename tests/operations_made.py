"""A pack at work for the tests of its kernel: plans, chargers, rules, all invented."""

from __future__ import annotations

from typing import Any

import numpy as np

from evpack.kernels import network
from evpack.kernels import operation_nouns as op
from evpack.kernels.operation import run
from evpack.kernels.runs import in_branches, stored

ALWAYS = 10**12


def plan(
    load: Any = 500.0,
    *,
    air: Any = 25.0,
    outage: Any = 0.0,
    price: Any = 0.0,
    cheap: Any = 0.0,
    suns: Any = (),
    hold: int = 1,
) -> op.Plan:
    """Return series; a number holds for good, a list for `hold` steps a value, and repeats."""
    series = [np.atleast_1d(np.asarray(s, dtype=float)) for s in (load, air, outage, price, cheap)]
    series += [np.atleast_1d(np.asarray(s, dtype=float)) for s in suns]
    sizes = np.array([s.size for s in series], dtype=np.int64)
    return op.Plan(
        flat=np.concatenate(series),
        begin=np.array([0, *np.cumsum(sizes)[:-1]], dtype=np.int64),
        size=sizes,
        hold=np.array([ALWAYS if size == 1 else hold for size in sizes], dtype=np.int64),
    )


def charger(**changes: Any) -> dict[str, float]:
    fields: dict[str, Any] = {
        "absorb": 56.0,
        "hold": 0.0,
        "again": 54.0,
        "current": 30.0,
        "ending": 3.0,
        "efficiency": 1.0,
        "mains": 0,
        "per_kelvin": 0.0,
        "reference": 25.0,
    }
    return {**fields, **changes}


def chargers(*given: dict[str, float]) -> op.Chargers:
    columns = {
        name: np.array([one[name] for one in given], dtype=np.int64 if name == "mains" else float)
        for name in op.Chargers._fields
    }
    return op.Chargers(**columns)


def rules(**changes: Any) -> op.Rules:
    """Return rules under which nothing ever happens, but for what is changed."""
    fields: dict[str, Any] = {
        "mode": op.BATTERY_FIRST,
        "charging": op.NEVER,
        "efficiency": 1.0,
        "idle": 0.0,
        "most": 1e5,
        "cable": 0.0,
        "go": 0.0,
        "back": 1e6,
        "cut": 0.0,
        "restart": 1e6,
        "go_delay": 30.0,
        "back_delay": 300.0,
        "cells": 14.0,
        "spread": 0.0,
        "below": 0.0,
        "high": np.inf,
        "high_clear": 4.1,
        "low": -np.inf,
        "low_clear": 3.2,
        "over_out": np.inf,
        "over_in": np.inf,
        "coldest": -np.inf,
        "hottest": np.inf,
        "may_charge": np.full(141, 1e6),
    }
    fields |= changes
    inverters = op.Inverters(**{name: fields.pop(name) for name in op.Inverters._fields})
    monitoring = op.Monitoring(**{name: fields.pop(name) for name in op.Monitoring._fields})
    return op.Rules(inverters, monitoring, **fields)


class Worked:
    """A run that is over: its books, what was kept, the state, and what followed of them."""

    def __init__(
        self,
        strings: network.Strings,
        *,
        soc: float = 0.5,
        celsius: float = 25.0,
        plan: op.Plan,
        chargers: op.Chargers,
        rules: op.Rules,
        seconds: float = 60.0,
        steps: int = 60,
        first: int = 0,
        stop: bool = False,
        room: int = 1000,
        pieces: int = 1,
        run: Any = run,
        every: int = 1,
    ) -> None:
        self.strings, self.seconds = strings, seconds
        self.state = network.rested(strings, soc, celsius)
        before = stored(strings, self.state.soc).sum(), in_branches(strings, self.state).sum()
        held = self.state.soc.copy()
        self.kept = op.Kept(
            rows=np.zeros((steps // every, op.ROW_WIDTH), dtype=np.float32),
            event_step=np.zeros(room, dtype=np.int64),
            event_kind=np.zeros(room, dtype=np.int64),
            event_volts=np.zeros(room),
            counts=np.zeros(op.KINDS, dtype=np.int64),
            soc_seconds=np.zeros(op.SOC_BINS),
            celsius_seconds=np.zeros(op.CELSIUS_BINS),
        )
        self.books = op.nothing()
        self.memory = op.beginning(rules.inverters.mode, chargers.absorb.size)
        bench = network.bench(strings, seconds)
        for piece in range(pieces):
            part = steps // pieces if piece < pieces - 1 else steps - piece * (steps // pieces)
            self.books, self.memory = run(
                strings,
                self.state,
                bench,
                plan,
                chargers,
                rules,
                self.kept,
                self.books,
                self.memory,
                seconds,
                first + self.books.steps,
                part,
                every,
                stop,
            )
        fallen = before[0] - stored(strings, self.state.soc).sum()
        banked = in_branches(strings, self.state).sum() - before[1]
        net = self.books.pack_out - self.books.pack_in
        self.energy_residual = fallen - banked - self.books.heat - net
        self.charge_residual = (
            (held - self.state.soc) * strings.coulombs
        ).sum() - self.books.charge_net

    def count(self, kind: int) -> int:
        return int(self.kept.counts[kind])

    def steps_of(self, kind: int) -> list[int]:
        n = self.memory.events
        return self.kept.event_step[:n][self.kept.event_kind[:n] == kind].tolist()

    def column(self, at: int) -> np.ndarray:
        return self.kept.rows[:, at]
