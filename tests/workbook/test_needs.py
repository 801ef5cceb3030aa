"""A cell that is run alone in a fresh kernel says what to run first."""

from __future__ import annotations

import ast
import builtins
from pathlib import Path

import nbformat
import pytest

from evpack.load.places import workbooks
from evpack.workbook.needs import RunFirstError, needs

HERE = 1


def test_what_is_there_is_no_matter() -> None:
    needs("HERE", "needs")
    needs()


def test_what_is_missing_is_named_with_what_to_do() -> None:
    with pytest.raises(RunFirstError, match=r"made, run are not there.*Run All Above") as caught:
        needs("HERE", "made", "run")
    # A notebook shows the sentence alone.
    assert caught.value._render_traceback_() == [str(caught.value)]
    with pytest.raises(RunFirstError, match="made is not there"):
        needs("made")


@pytest.mark.parametrize("path", workbooks().values(), ids=lambda path: path.stem)
def test_the_last_cell_of_a_workbook_asks_for_all_that_it_goes_on_from(path: Path) -> None:
    """Run alone in an empty kernel: its own answer, or what to run first, never a NameError."""
    cells = [c for c in nbformat.read(path, as_version=4).cells if c.cell_type == "code"]
    tree = ast.parse(cells[-1].source)
    words = [node for node in ast.walk(tree) if isinstance(node, ast.Name)]
    imported = {
        alias.asname or alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    own = (
        imported
        | {word.id for word in words if isinstance(word.ctx, ast.Store)}
        | set(dir(builtins))
    )
    wanted = {word.id for word in words} - own
    if wanted:
        with pytest.raises(RunFirstError) as caught:
            exec(compile(tree, path.name, "exec"), {"__name__": "__main__"})  # noqa: S102  our own
        assert all(name in str(caught.value) for name in wanted)
