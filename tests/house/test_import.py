"""House: importing evpack is cheap, and every public name is there."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

import evpack

ROOT = Path(__file__).resolve().parents[2]
HEAVY = ("pint", "numpy", "scipy", "ipywidgets", "IPython", "nbconvert", "attrs")


def loaded_after(code: str) -> set[str]:
    """Return the packages that are loaded after some code in a fresh interpreter."""
    script = (
        f"import json, sys\nbefore = set(sys.modules)\n{code}\n"
        "print(json.dumps(sorted({m.split('.')[0] for m in set(sys.modules) - before})))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return set(json.loads(done.stdout))


def test_importing_evpack_loads_nothing_heavy() -> None:
    loaded = loaded_after("import evpack")
    assert "evpack" in loaded
    assert not loaded & set(HEAVY)


def test_naming_something_loads_what_it_needs() -> None:
    """The check above can fail: a noun brings its units with it."""
    assert {"pint", "numpy"} <= loaded_after("import evpack\nevpack.Pack")


def test_designing_loads_no_notebook() -> None:
    loaded = loaded_after("import evpack\nevpack.design, evpack.decide, evpack.read_sheet")
    assert not loaded & {"ipywidgets", "IPython", "nbconvert"}


def test_the_public_names_are_known_without_loading_them() -> None:
    assert {"Build", "Pack", "design", "decide", "read_sheet", "Severity"} <= set(evpack.__all__)
    assert set(evpack.__all__) <= set(dir(evpack))


@pytest.mark.parametrize("name", evpack.__all__)
def test_every_public_name_is_there(name: str) -> None:
    assert getattr(evpack, name) is not None


def test_another_name_is_not() -> None:
    with pytest.raises(AttributeError):
        _ = evpack.nonesuch
