"""House: every data file is whole, names its source, and names no machine."""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from evpack.base.source import Seen
from evpack.load.entries import entry, keys
from evpack.load.library import LibraryEntry, library, module_entry
from evpack.load.places import data_dir
from evpack.load.sheet import example, read_sheet
from evpack.load.tables import source, sources, table

DATA = data_dir()
TEXTS = sorted(p for p in DATA.rglob("*") if p.suffix in {".toml", ".csv", ".md"})
KEY_OF_A_SOURCE = ("source", "known_from")
OF_POWER = {"solar", "mains", "generator"}


def source_keys(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key in KEY_OF_A_SOURCE and isinstance(inner, str) and inner not in OF_POWER:
                yield inner
            yield from source_keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from source_keys(inner)


@pytest.mark.parametrize("path", TEXTS, ids=lambda p: str(p.relative_to(DATA)))
def test_a_file_is_plain_text_and_names_no_machine(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert not re.search(r"/(home|root|tmp|work|Users|mnt)/|[A-Z]:\\", text)
    assert "\r" not in text
    assert text.endswith("\n")


@pytest.mark.parametrize(
    "path",
    [
        p
        for p in TEXTS
        if p.suffix == ".toml" and not {"as_built", "examples", "batches"} & set(p.parts)
    ],
    ids=lambda p: str(p.relative_to(DATA)),
)
def test_every_source_named_exists(path: Path) -> None:
    if path.name == "sources.toml" or path.parent.name == "bench":
        return  # a bench record's sidecar cites in full
    named = list(source_keys(tomllib.loads(path.read_text(encoding="utf-8"))))
    assert named, "a data file names its source"
    for key in named:
        assert source(key).title


@pytest.mark.parametrize("path", sorted((DATA / "tables").glob("*.csv")), ids=lambda p: p.stem)
def test_every_table_has_units_and_a_sidecar(path: Path) -> None:
    held = table(path.stem)
    assert held.table
    Seen(held.seen)
    for column in held.columns:
        assert re.search(r" \[(A|A2s|V|kWh|1|mm|mm2|degC|Ohm/kft|Ohm/km)\]$", column) or column in {
            "size",
            "kind",
            "key",
            "name",
            "standard",
            "note",
            "characteristic",
            *("says", "unit", "accept", "retest", "source"),  # a unit to each row, of its limits
            *("noun", "field", "of", "low", "high"),
            *("rules", "judges", "bound", "clause", "edition", "seen"),  # of rules, a clause a row
        }


@pytest.mark.parametrize("path", sorted((DATA / "tables").glob("*.csv")), ids=lambda p: p.stem)
def test_a_table_was_seen_as_its_source_says(path: Path) -> None:
    held = table(path.stem)
    assert source(held.source).seen == held.seen


def test_nothing_claims_an_original_that_nobody_saw() -> None:
    assert not [key for key, held in sources().items() if held.seen is Seen.ORIGINAL]


LINES = library()
EXAMPLES = [line for line in LINES if line.kind == "example"]


@pytest.mark.parametrize("line", LINES, ids=lambda e: f"{e.kind}-{e.key}")
def test_every_entry_loads(line: LibraryEntry) -> None:
    if line.kind in {"module", "inverter", "charger", "profile"}:
        assert entry(f"{line.kind}s", line.key).values["name"] == line.name


def test_every_module_entry_stands_within_its_chemistry() -> None:
    for key in keys("modules"):
        module = module_entry(key)
        assert module.least.m < module.nominal.m < module.highest.m


@pytest.mark.parametrize("line", EXAMPLES, ids=lambda e: e.key)
def test_every_example_loads_and_is_marked_as_invented(line: LibraryEntry) -> None:
    build = read_sheet(example(line.key))
    assert build.invented
    assert build.note.startswith("Invented:")
