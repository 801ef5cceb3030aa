"""House: the example record is marked as invented, and comes out of its script again."""

import runpy

from evpack.load.places import data_dir

FOLDER = data_dir() / "as_built"


def test_the_script_writes_the_shipped_record() -> None:
    written = runpy.run_path(str(FOLDER / "invent_record.py"))["record"]()
    assert (FOLDER / "wether-barn.toml").read_text(encoding="utf-8") == written


def test_it_is_marked_as_invented() -> None:
    assert (FOLDER / "wether-barn.toml").read_text(encoding="utf-8").startswith("# Invented: ")
