"""Hypothesis: the same examples at every run; a long random search where it is asked for."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, Phase, settings

# Builds have some sixty fields, so that drawing one is slow next to checking it.
_SLOW = (HealthCheck.too_slow, HealthCheck.data_too_large)
# Not `Phase.explain`: on builds it takes minutes and says nothing.
_PHASES = (Phase.explicit, Phase.reuse, Phase.generate, Phase.target, Phase.shrink)
settings.register_profile(
    "gate",
    derandomize=True,
    max_examples=30,
    deadline=None,
    phases=_PHASES,
    suppress_health_check=_SLOW,
)
settings.register_profile(
    "long", settings.get_profile("gate"), derandomize=False, max_examples=2000
)
# For a round while working: what fails is found, and not made small.
settings.register_profile(
    "quick",
    settings.get_profile("gate"),
    max_examples=10,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "gate"))
