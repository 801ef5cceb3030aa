"""A heap of modules."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import evpack
from evpack.base.files import is_file
from evpack.cli.common import GO, may_write, tell, write

if TYPE_CHECKING:
    from evpack.cli.common import Commands


def add(commands: Commands) -> None:
    """Add the commands."""
    heap = commands.add_parser(
        "heap",
        help="grade a heap of modules, group them, and plan how they are joined",
        description="HEAP is a batch sheet (.toml) that names a log of readings; `evpack heap "
        "hill-heap` takes an example of that name. Exit code: 0 done, 2 the heap cannot be used.",
    )
    heap.add_argument("heap", metavar="HEAP")
    heap.add_argument("--json", action="store_true", help="for programs instead of people")
    heap.add_argument("--quick", action="store_true", help="the quick answer, without a proof")
    heap.add_argument("--page", metavar="PAGE.html", type=Path, help="also write it as one page")
    heap.add_argument("--cards", metavar="CARDS.html", type=Path, help="test cards and labels")
    heap.add_argument("--force", action="store_true", help="replace any file of that name")
    heap.set_defaults(run=_heap)


def _heap(given: argparse.Namespace) -> int:
    from evpack.show.cards import cards_html  # noqa: PLC0415
    from evpack.show.matching import heap_page  # noqa: PLC0415

    may_write(given.page, given.cards, force=given.force)
    path = Path(given.heap)
    if not path.suffix and not is_file(path):
        path = evpack.example_batch(given.heap)
    made = evpack.match_heap(evpack.read_batch(path), proven=not given.quick)
    tell(made, as_json=given.json)
    for target, page in ((given.page, heap_page), (given.cards, cards_html)):
        if target is not None:
            write(target, page(made), force=given.force)
            print(f"written: {target}", file=sys.stderr if given.json else sys.stdout)
    return GO
