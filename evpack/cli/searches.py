"""Commands that try many designs."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import evpack
from evpack.base.errors import EvpackError
from evpack.cli.common import GO, NO_GO, built, tell

if TYPE_CHECKING:
    from evpack.cli.common import Commands

from evpack.base.errors import nearest
from evpack.describe.equipment import EquipmentList


def add(commands: Commands) -> None:
    """Add the commands."""
    for name, run, help_ in (
        ("arrangements", _arrangements, "which arrangements of the modules suit the equipment"),
        ("equipment", _equipment, "which inverters and chargers of a list suit the pack"),
        ("ways", _ways, "what would clear what holds a design up, each way proven"),
        ("trade-offs", _trade_offs, "what is gained and given up: energy, years, margin, cost"),
        ("growth", _growth, "what stays valid when the pack grows, and what to buy bigger now"),
    ):
        search = commands.add_parser(name, help=help_)
        search.add_argument("sheet", metavar="SHEET")
        if name in {"arrangements", "trade-offs"}:
            search.add_argument("--modules", type=int, help="how many are at hand")
            search.add_argument("--module-price", metavar="PRICE", help='of one, as in "40 EUR"')
        elif name != "growth":
            search.add_argument(
                "list",
                metavar="LIST.toml",
                nargs="?" if name == "ways" else None,
                help="sections [[inverter]] and [[charger]], each with a price if known"
                + ("" if name == "ways" else "; 'library' takes the classes of the library"),
            )
        if name == "trade-offs":
            _add_trade_offs(search)
        if name in {"equipment", "trade-offs"}:
            search.add_argument(
                "--budget", type=float, help="what may be spent on devices, in the list's money"
            )
        if name != "growth":
            search.add_argument("--jobs", type=int, default=1, help="processes to spread it over")
        search.add_argument("--json", action="store_true", help="for programs instead of people")
        search.set_defaults(run=run)


def _add_trade_offs(search: argparse.ArgumentParser) -> None:
    search.add_argument(
        "--list",
        metavar="LIST.toml",
        help="inverters and chargers that could be bought; 'library' takes its classes",
    )
    search.add_argument("--pick", type=int, metavar="K", help="the number of a choice to write")
    search.add_argument("--write", metavar="NEW.toml", help="its build sheet, a new file")


@contextmanager
def _spread(given: argparse.Namespace) -> Iterator[dict[str, object]]:
    """Yield how a search is to be carried out: over so many processes, telling how far it is."""
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415

    told: dict[str, object] = {"progress": told_progress} if sys.stderr.isatty() else {}
    if given.jobs < 1:
        raise EvpackError(f"--jobs must be 1 or more, got {given.jobs}")
    if given.jobs == 1:
        yield told
        return
    with ProcessPoolExecutor(given.jobs) as executor:
        yield {**told, "executor": executor}


def told_progress(done: int, of: int) -> None:
    """Tell how many designs are tried."""
    print(f"\r{done} of {of}", end="\n" if done == of else "", file=sys.stderr, flush=True)


def _arrangements(given: argparse.Namespace) -> int:
    build = built(given.sheet)
    with _spread(given) as how:
        found = evpack.search_arrangements(
            build, given.modules, module_price=given.module_price, **how
        )
    tell(found, as_json=given.json)
    return NO_GO if found.best is None else GO


def _equipment(given: argparse.Namespace) -> int:
    build, listed = built(given.sheet), _listed(given.list)
    with _spread(given) as how:
        found = evpack.search_equipment(build, listed, budget=given.budget, **how)
    tell(found, as_json=given.json)
    return NO_GO if found.best is None else GO


def _listed(typed: str) -> EquipmentList:
    if not Path(typed).suffix and not Path(typed).exists() and typed != "library":
        raise EvpackError(
            f"{typed}: there is no such list; a file (.toml) is needed, or the word 'library'"
            f"{nearest(typed, ['library'])}"
        )
    if typed == "library":
        held: EquipmentList = evpack.generic_equipment()
    else:
        held = evpack.read_equipment(typed)
    return held


def _ways(given: argparse.Namespace) -> int:
    build = built(given.sheet)
    listed = None if given.list is None else _listed(given.list)
    with _spread(given) as how:
        found = evpack.find_ways(build, equipment=listed, **how)
    tell(found, as_json=given.json)
    return GO if found.now.go or found.to_go else NO_GO


def _trade_offs(given: argparse.Namespace) -> int:
    if (given.pick is None) != (given.write is None):
        raise EvpackError("--pick and --write go together: which choice, and into which new file")
    if given.write is not None and os.path.lexists(given.write):  # before all is tried
        raise EvpackError(f"{given.write}: is there already; choose another name")
    build = built(given.sheet)
    listed = None if given.list is None else _listed(given.list)
    with _spread(given) as how:
        found = evpack.search_trade_offs(
            build,
            given.modules,
            module_price=given.module_price,
            equipment=listed,
            budget=given.budget,
            **how,
        )
    if given.pick is None:
        tell(found, as_json=given.json)
        return GO if found.front else NO_GO
    if not 1 <= given.pick <= len(found.front):
        there = f"from 1 to {len(found.front)}" if found.front else "none: nothing may be built"
        raise EvpackError(f"--pick must be the number of a choice, {there}; got {given.pick}")
    picked = found.front[given.pick - 1]
    target = evpack.write_sheet(build, given.write, picked, equipment=listed)
    tell(found, as_json=given.json)
    print(f"{picked.name}: written to {target}", file=sys.stderr)
    return GO


def _growth(given: argparse.Namespace) -> int:
    tell(evpack.search_growth(built(given.sheet)), as_json=given.json)
    return GO
