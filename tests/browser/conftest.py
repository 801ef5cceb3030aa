"""A real browser and a JupyterLab of our own; skipped, with the reason, where there is none."""

import contextlib
import functools
import json
import os
import secrets
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import uuid4

import pytest

from evpack.base.files import passing_folder
from evpack.load.places import workbooks_dir
from evpack.load.sheet import example
from evpack.workbook.kernel import transport
from evpack.workbook.share import share

CHROMIUM = Path("/usr/bin/chromium")
# Nothing is timed here. Tests wait for what is to happen, and give up only where it never does.
LONG = 120  # [s]
# A page must fit with whatever fonts there are: one of the widest in use, and one like Arial.
FONTS = {
    "wide": ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "DejaVuSansMono.ttf"),
    "like-arial": (
        "LiberationSans-Regular.ttf",
        "LiberationSans-Bold.ttf",
        "LiberationMono-Regular.ttf",
    ),
}
_INSTALLED = Path("/usr/share/fonts")
_NEWS = "@jupyterlab/apputils-extension:announcements"  # asks the network for news


def _missing(reason: str) -> None:
    """Skip, or fail where a browser is said to be needed."""
    if os.environ.get("EVPACK_NEED_BROWSER") == "1":
        pytest.fail(reason)
    pytest.skip(f"{reason} (EVPACK_NEED_BROWSER=1 makes this a failure)")


class Patient:
    """A browser whose pages wait long: a machine may be busy with other things."""

    def __init__(self, browser: object) -> None:
        self._browser = browser

    def new_context(self, **how: object) -> object:
        """Open pages with settings of their own."""
        context = self._browser.new_context(**how)
        context.set_default_timeout(LONG * 1000)
        return context

    def new_page(self, **how: object) -> object:
        """Open one page."""
        page = self._browser.new_page(**how)
        page.set_default_timeout(LONG * 1000)
        return page


@pytest.fixture(scope="session")
def fonts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return settings of fontconfig that offer one set of fonts, and no other of this machine."""
    told = {}
    for name, files in FONTS.items():
        folder = tmp_path_factory.mktemp(name)
        (folder / "fonts").mkdir()
        for file in files:
            found = next(_INSTALLED.rglob(file), None)
            if found is None:
                _missing(f"no {file}: apt install fonts-dejavu-core fonts-liberation")
            (folder / "fonts" / file).symlink_to(found)
        told[name] = folder / "fonts.conf"
        told[name].write_text(
            f"<fontconfig><dir>{folder / 'fonts'}</dir>"
            f"<cachedir>{folder / 'cache'}</cachedir></fontconfig>",
            encoding="utf-8",
        )
    return told


@pytest.fixture(scope="session")
def browsers(fonts: dict[str, Path]) -> Iterator[Callable[[str], Patient]]:
    """Return what opens Debian's Chromium without a window, once for each set of fonts."""
    if not CHROMIUM.exists():
        _missing(f"no {CHROMIUM}")
    try:
        from playwright.sync_api import expect, sync_playwright  # noqa: PLC0415  may be missing
    except ImportError:
        _missing("the playwright package is not installed")
    expect.set_options(timeout=LONG * 1000)
    with sync_playwright() as play, contextlib.ExitStack() as open_ones:

        @functools.cache
        def opened(name: str) -> Patient:
            # Inside a container there is no sandbox to be had; only our own pages are opened.
            browser = play.chromium.launch(
                executable_path=str(CHROMIUM),
                args=["--no-sandbox"],
                env=os.environ | {"FONTCONFIG_FILE": str(fonts[name])},
                timeout=LONG * 1000,
            )
            open_ones.callback(browser.close)
            return Patient(browser)

        yield opened


@pytest.fixture(scope="session")
def browser(browsers: Callable[[str], Patient]) -> Patient:
    """Open a browser with the wide fonts, with which the least has room."""
    return browsers("wide")


@pytest.fixture(scope="session")
def barn_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Share the main workbook of the example, once for all that only look at it."""
    folder = tmp_path_factory.mktemp("shared")
    sheet = Path(shutil.copy(example("wether-barn"), folder / "barn.toml"))
    return share(sheet, folder / "barn.html")


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


@pytest.fixture(scope="module")
def lab(browser: object, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Start JupyterLab on a copy of the workbooks; yields its address with a blank for the file.

    Loopback only, with a token, and nobody's own settings. It takes a network port that is free
    and says which; its kernels are spoken to through files, so that none loses a port that was
    found free for it. The names of such files are bounded: they lie in a folder with a short one.
    """
    del browser  # without one there is nothing to start
    place = tmp_path_factory.mktemp("lab")
    shutil.copytree(workbooks_dir(), place / "work", ignore=shutil.ignore_patterns(".*"))
    (place / "config" / "labconfig").mkdir(parents=True)
    disabled = json.dumps({"disabledExtensions": {_NEWS: True}})
    (place / "config" / "labconfig" / "page_config.json").write_text(disabled)
    token = secrets.token_hex(16)
    with passing_folder() as running:
        words = [
            *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root"),
            "--ServerApp.ip=127.0.0.1",
            f"--ServerApp.root_dir={place / 'work'}",
            f"--KernelManager.transport={transport(running / str(uuid4()))}",
            "--expose-app-in-browser",  # its own promises tell when it is done
        ]
        own = {
            "JUPYTER_CONFIG_DIR": str(place / "config"),
            "JUPYTER_RUNTIME_DIR": str(running),
            "JUPYTERLAB_SETTINGS_DIR": str(place / "settings"),
            "JUPYTERLAB_WORKSPACES_DIR": str(place / "workspaces"),
            "IPYTHONDIR": str(place / "ipython"),
            "JUPYTER_TOKEN": token,
            "PYTHONPATH": os.pathsep.join(str(Path(p).resolve()) for p in sys.path),
        }
        log = place / "lab.log"
        with (
            log.open("wb") as told,
            subprocess.Popen(words, env=os.environ | own, stdout=told, stderr=told) as server,
        ):
            try:
                port = _port_of(server, running, log)
                yield f"http://127.0.0.1:{port}/lab/tree/{{}}?token={token}&reset"
            finally:
                server.terminate()


def _port_of(server: subprocess.Popen, running: Path, log: Path) -> int:
    """Return the port that a server took; it writes it down when it listens."""
    written = running / f"jpserver-{server.pid}.json"
    ends = time.monotonic() + LONG
    while server.poll() is None and time.monotonic() < ends:
        with contextlib.suppress(OSError, ValueError):  # not there, or half written
            return int(json.loads(written.read_text(encoding="utf-8"))["port"])
        time.sleep(0.1)
    pytest.fail(f"JupyterLab did not start:\n{log.read_text()[-2000:]}")
