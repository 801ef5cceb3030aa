"""What a run of sharing says goes back into the build: fuses and cables are then sized for it."""

from __future__ import annotations

import math

import attrs

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.units import SHARE
from evpack.describe.build import Build
from evpack.describe.checked import need
from evpack.outcome.design import Design
from evpack.outcome.sharing_run import SharingRun
from evpack.simulate.sharing_rules import reckoned

_STEP = 0.01  # to which an imbalance is rounded up [1]
_DUST = 1e-9


def reckon_with(design: Design, run: SharingRun) -> Build:
    """Return the build with the imbalance that a run of its strings showed, never with less.

    The worst of all cases counts: a new module among worn ones, a weak one, a string out. Design
    the build that comes back, and its string fuses, leads and limits are for that.

    Parameters
    ----------
    design : Design
        As `evpack.design` returns it.
    run : SharingRun
        Of that design, by `evpack.simulate_sharing`.

    Raises
    ------
    DescriptionError
        The run has no cases, or shows more than any design may reckon with.
    """
    need("reckon_with", design, Design)
    need("reckon_with", run, SharingRun)
    if not run.cases:
        raise DescriptionError("this run has no cases: its findings say what is not known")
    build = design.build
    # Unlike leads come on top of what is assumed, so the factor is raised by what is missing.
    beyond = max(
        one.uneven.value / reckoned(design, case.strings) for case in run.cases for one in case.runs
    )
    if beyond <= 1:
        return build
    raised = float(build.policy.sharing_imbalance.m) * beyond
    value = _STEP * math.ceil(raised / _STEP - _DUST)
    basis = build.policy.basis.but(sharing_imbalance=Basis.COMPUTED)
    policy = attrs.evolve(build.policy, sharing_imbalance=SHARE.of(value), basis=basis)
    return attrs.evolve(build, policy=policy, sheet="")
