"""What holds for all tests: examples that are the same at every run, kernels without ports."""

from __future__ import annotations

import itertools
import os
import shutil
import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from jupyter_client.manager import KernelManager
from nbval import kernel

from evpack.workbook.kernel import transport

# --- The same examples at every run; a long random search where it is asked for -------------------

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

# --- Workbooks, each with a kernel that no other process can get in the way of --------------------

_FOLDER = pytest.StashKey[Path]()


def pytest_sessionstart(session: pytest.Session) -> None:
    """Have nbval speak to its kernels as shared pages do: through files, not network ports.

    A port is found free, let go, and taken up by the kernel later; another test's browser or
    kernel may have it by then.
    """
    folder = session.stash[_FOLDER] = Path(tempfile.mkdtemp(prefix="evpack-"))
    numbers = itertools.count(1)

    def manager(**how: Any) -> KernelManager:
        own = folder / str(next(numbers))
        own.mkdir()
        return KernelManager(
            connection_file=str(own / "kernel.json"), transport=transport(own), **how
        )

    kernel.KernelManager = manager


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Clear the folder of the kernels away."""
    shutil.rmtree(session.stash[_FOLDER], ignore_errors=True)
