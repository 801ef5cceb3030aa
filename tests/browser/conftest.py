"""A real browser and a JupyterLab of our own; skipped, with the reason, where there is none."""

import contextlib
import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from evpack.load.places import workbooks_dir

CHROMIUM = Path("/usr/bin/chromium")
_NEWS = "@jupyterlab/apputils-extension:announcements"  # asks the network for news


def _missing(reason: str) -> None:
    """Skip, or fail where a browser is said to be needed."""
    if os.environ.get("EVPACK_NEED_BROWSER") == "1":
        pytest.fail(reason)
    pytest.skip(f"{reason} (EVPACK_NEED_BROWSER=1 makes this a failure)")


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """Open Debian's Chromium without a window."""
    if not CHROMIUM.exists():
        _missing(f"no {CHROMIUM}")
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415  may be missing
    except ImportError:
        _missing("the playwright package is not installed")
    with sync_playwright() as play:
        # Inside a container there is no sandbox to be had; only our own pages are opened.
        opened = play.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def kept() -> Callable[[object, str], None]:
    """Return what keeps a picture of a page in the folder ``EVPACK_SCREENSHOTS``, if that is set.

    For people to look at after a run; nothing is compared with it.
    """
    folder = os.environ.get("EVPACK_SCREENSHOTS")

    def keep(page: object, name: str) -> None:
        if folder:
            Path(folder).mkdir(parents=True, exist_ok=True)
            page.screenshot(path=str(Path(folder) / name), full_page=True)

    return keep


@pytest.fixture
def lab(browser: object, tmp_path: Path) -> Iterator[str]:
    """Start JupyterLab on a copy of the workbooks; yields its address with a blank for the file.

    Loopback only, with a token, and nobody's own settings.
    """
    del browser  # without one there is nothing to start
    folder = tmp_path / "work"
    shutil.copytree(workbooks_dir(), folder, ignore=shutil.ignore_patterns(".*"))
    config = tmp_path / "config"
    (config / "labconfig").mkdir(parents=True)
    disabled = json.dumps({"disabledExtensions": {_NEWS: True}})
    (config / "labconfig" / "page_config.json").write_text(disabled)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    token = secrets.token_hex(16)
    words = [
        *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root"),
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        f"--ServerApp.root_dir={folder}",
    ]
    own = dict.fromkeys(("JUPYTER_CONFIG_DIR",), str(config)) | {
        "JUPYTER_RUNTIME_DIR": str(tmp_path / "runtime"),
        "JUPYTERLAB_SETTINGS_DIR": str(tmp_path / "settings"),
        "JUPYTERLAB_WORKSPACES_DIR": str(tmp_path / "workspaces"),
        "IPYTHONDIR": str(tmp_path / "ipython"),
        "JUPYTER_TOKEN": token,
        "PYTHONPATH": os.pathsep.join(str(Path(p).resolve()) for p in sys.path),
    }
    log = (tmp_path / "lab.log").open("wb")
    with log, subprocess.Popen(words, env=os.environ | own, stdout=log, stderr=log) as server:
        try:
            _wait_for(f"http://127.0.0.1:{port}/api?token={token}", server, tmp_path / "lab.log")
            yield f"http://127.0.0.1:{port}/lab/tree/{{}}?token={token}&reset"
        finally:
            server.terminate()


def _wait_for(address: str, server: subprocess.Popen, log: Path) -> None:
    for _ in range(300):
        if server.poll() is not None:
            break
        with contextlib.suppress(OSError), urllib.request.urlopen(address):  # noqa: S310  loopback
            return
        time.sleep(0.1)
    pytest.fail(f"JupyterLab did not start:\n{log.read_text()[-2000:]}")
