"""House: each floor imports only lower ones, as `pyproject.toml` has it."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CONTRACT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"][
    "importlinter"
]["contracts"][0]


def lint(config: Path) -> subprocess.CompletedProcess[str]:
    """Run the linter of imports, from the top of the tree."""
    return subprocess.run(
        [
            sys.executable,
            "-c",
            "from importlinter.cli import lint_imports_command; lint_imports_command()",
            "--config",
            str(config),
            "--no-cache",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
        check=False,
    )


def test_each_floor_imports_only_lower_ones() -> None:
    done = lint(ROOT / "pyproject.toml")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Contracts: 1 kept, 0 broken." in done.stdout


def test_every_package_and_module_stands_on_a_floor() -> None:
    floors = {name.strip() for layer in CONTRACT["layers"] for name in layer.split("|")}
    standing = {
        f"evpack.{path.stem}"
        for path in (ROOT / "evpack").iterdir()
        if (path.suffix == ".py" and path.stem != "__init__") or (path / "__init__.py").is_file()
    }
    assert standing == floors


def test_a_floor_upside_down_is_caught(tmp_path: Path) -> None:
    upside_down = tmp_path / "upside_down.toml"
    upside_down.write_text(
        '[tool.importlinter]\nroot_packages = ["evpack"]\n[[tool.importlinter.contracts]]\n'
        'name = "Upside down"\ntype = "layers"\nlayers = ["evpack.base", "evpack.describe"]\n',
        encoding="utf-8",
    )
    done = lint(upside_down)
    assert done.returncode == 1, done.stdout + done.stderr
    assert "Contracts: 0 kept, 1 broken." in done.stdout


FORBIDDEN = re.compile(r"^\s*(?:import|from) (pint|evpack\.(?!kernels|base\.errors))", re.MULTILINE)


@pytest.mark.parametrize("path", sorted((ROOT / "evpack" / "kernels").glob("*.py")), ids=str)
def test_a_kernel_knows_no_noun_and_no_unit(path: Path) -> None:
    assert not FORBIDDEN.search(path.read_text(encoding="utf-8"))


READS_WITH_PINT = re.compile(
    r"UnitRegistry|parse_expression|parse_units|registry\(|Quantity\([\"'f]"
)


def test_nobody_lets_pint_read_text() -> None:
    """It reads "1,5 V" as 15 V. `base.units` makes the one registry and reads text itself."""
    reading = {
        str(path.relative_to(ROOT))
        for path in (ROOT / "evpack").rglob("*.py")
        if READS_WITH_PINT.search(path.read_text(encoding="utf-8"))
    }
    assert reading == {str(Path("evpack", "base", "units.py"))}
