"""The groundwork: the build and what follows from it alone, made once and used by every step."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.brief import brief
from evpack.base.units import Quantity
from evpack.base.worked import Input, count, known
from evpack.describe.build import Build
from evpack.describe.chemistry import CellTargets
from evpack.describe.policy import means
from evpack.outcome.figures import PackFigures
from evpack.outcome.source import Demand, PackSource


@attrs.frozen(kw_only=True, eq=False)
class Groundwork:
    """The build, its cells' targets, its figures, its pack as a source, and what is asked of it.

    The methods return what the steps put into their formulas, each with how it is known.
    """

    build: Build
    targets: CellTargets
    figures: PackFigures
    source: PackSource
    demand: Demand

    __repr__ = brief

    @property
    def n(self) -> int:
        """Return the number of cells in series."""
        return self.source.cells

    def cells(self) -> Input:
        """Return the number of cells in series as an input."""
        return count("n", "cells in series", self.n)

    def charge_target(self) -> Input:
        """Return the charge target for the highest cell."""
        policy, chemistry = self.build.policy, self.build.pack.module.chemistry
        what = "charge target for the highest cell"
        if policy.charge_target is not None:
            return known("V_high", what, policy.charge_target, policy.basis.of("charge_target"))
        return known("V_high", what, self.targets.charge, chemistry.basis.of("charge"))

    def cell_thresholds(self) -> dict[str, float]:
        """Return the thresholds of the cell monitoring for one cell [V].

        They lie inside the module's limits. A module with tighter limits of its own keeps the
        distance that the chemistry's cuts keep from the chemistry's limits: the monitoring has
        errors too.
        """
        targets, module = self.targets, self.build.pack.module
        limits, gap = module.chemistry.limits, float(targets.ladder_gap.m)
        high, low = float(targets.cut_high.m), float(targets.cut_low.m)
        cut_high = min(high, module.highest.m - (limits.highest.m - high))
        cut_low = max(low, module.least.m + min(low - limits.least.m, gap))
        return {
            "cut_high": cut_high,
            "warn_high": min(float(targets.warn_high.m), cut_high - gap),
            "warn_low": max(float(targets.warn_low.m), cut_low + gap),
            "cut_low": cut_low,
        }

    def spread(self) -> Input:
        """Return the guard between the highest (or lowest) cell and the mean."""
        pack, chemistry = self.build.pack, self.build.pack.module.chemistry
        guard = self.targets.top_guard
        measured = pack.spread_full
        if measured is not None and measured.m > guard.m:
            return known("δ", "measured cell spread", measured, pack.basis.of("spread_full"))
        return known("δ", "least guard for cell spread", guard, chemistry.basis.of("top_guard"))

    def guard(self, symbol: str, field: str) -> Input:
        """Return a field of the policy as an input."""
        policy = self.build.policy
        return known(symbol, means(field), getattr(policy, field), policy.basis.of(field))

    def accuracy(self, stated: Quantity | None, basis: Basis, fallback: str, what: str) -> Input:
        """Return a device's stated accuracy, else the policy's assumed one."""
        if stated is None:
            return self.guard("ε", fallback)
        return known("ε", what, stated, basis)
