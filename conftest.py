"""Workbooks run as tests: each with a kernel that no other process can get in the way of."""

from __future__ import annotations

import itertools
import shutil
import tempfile
from pathlib import Path
from typing import Any

import pytest
from jupyter_client.manager import KernelManager
from nbval import kernel

from evpack.workbook.kernel import transport

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
