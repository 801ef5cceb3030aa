"""The command line: thin, every command one call into the library."""

from __future__ import annotations

import argparse
import io
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import evpack
from evpack.base.errors import EvpackError, nearest

if TYPE_CHECKING:
    from evpack.describe.build import Build
    from evpack.describe.equipment import EquipmentList

GO, NO_GO, BAD_INPUT = 0, 1, 2
# As a shell says of a program that a signal ended: interrupted, or its reader went away. Neither
# may pass for a verdict.
INTERRUPTED, NO_READER = 130, 141


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Parameters
    ----------
    arguments : sequence of str or None
        The words after ``evpack``; None takes those of the process.

    Returns
    -------
    int
        0 done (for ``decide``: works, or works with limits), 1 ``decide`` says does not work or
        cannot tell yet, 2 input that cannot be used.
    """
    given = _parser().parse_args(arguments)
    if isinstance(sys.stdout, io.TextIOWrapper):
        from evpack.show.clean import ERRORS  # noqa: PLC0415  registers how signs are spelled

        # A terminal that cannot write a sign gets another one, not a traceback.
        sys.stdout.reconfigure(errors=ERRORS)
    try:
        code = int(given.run(given))
        sys.stdout.flush()
    except EvpackError as problem:
        print(f"evpack: {problem}", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        # ``| head`` has read enough. Keep Python from complaining when it flushes at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NO_READER
    except KeyboardInterrupt:
        return INTERRUPTED
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="evpack",
        description="Design workbooks for giving salvaged EV battery modules a second life.",
        epilog="A SHEET is a build sheet (.toml) or a shared page (.html), which carries one.",
    )
    parser.add_argument("--version", action="version", version=f"evpack {evpack.__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    decide = commands.add_parser(
        "decide",
        help="does it work, with what settings and protection",
        description="Exit code: 0 works or works with limits, 1 does not work or cannot tell yet, "
        "2 the sheet cannot be used.",
    )
    decide.add_argument("sheet", metavar="SHEET")
    decide.add_argument("--json", action="store_true", help="for programs instead of people")
    decide.add_argument("--full", action="store_true", help="with every formula and rule")
    decide.add_argument("--share", metavar="PAGE.html", type=Path, help="also write a shared page")
    decide.add_argument("--force", action="store_true", help="replace any file of that name")
    decide.set_defaults(run=_decide)

    share = commands.add_parser("share", help="write a page to hand over or print")
    share.add_argument("sheet", metavar="SHEET")
    share.add_argument("page", metavar="PAGE.html", type=Path)
    share.add_argument("--code", action="store_true", help="show the code cells as well")
    share.add_argument("--workbook", metavar="NAME", help="another workbook than the usual one")
    share.add_argument("--force", action="store_true", help="replace any file of that name")
    share.set_defaults(run=_share)

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

    _add_searches(commands)

    log = commands.add_parser(
        "log",
        help="hold the log of the finished pack against its design",
        description="Exit code: 0 as predicted or a word of caution, 1 a stop or not known, 2 a "
        "file that cannot be used.",
    )
    log.add_argument("sheet", metavar="SHEET")
    log.add_argument("log", metavar="LOG.csv")
    log.set_defaults(run=_log)

    workbooks = commands.add_parser(
        "workbooks", help="copy the workbooks and examples to a folder and open them"
    )
    workbooks.add_argument("folder", metavar="FOLDER", type=Path, nargs="?", default=Path())
    workbooks.add_argument("--no-open", action="store_true", help="copy only")
    workbooks.set_defaults(run=_workbooks)

    library = commands.add_parser("library", help="list the library, or show one entry of it")
    library.add_argument("key", metavar="KEY", nargs="?")
    library.set_defaults(run=_library)

    start = commands.add_parser("start", help="write a build sheet to fill in")
    start.add_argument("sheet", metavar="NAME.toml", type=Path)
    start.set_defaults(run=_start)
    return parser


def _add_trial(commands: Any) -> None:
    trial = commands.add_parser(
        "trial",
        help="try to break the settings: errors, cold, a string out, a device that never stops",
        description="Exit code: 0 no cell is harmed, or the cell monitoring must catch it; 1 a "
        "cell is, or nobody can tell; 2 the sheet cannot be used.",
    )
    trial.add_argument("sheet", metavar="SHEET")
    trial.add_argument("--json", action="store_true", help="for programs instead of people")
    trial.set_defaults(run=_trial)


def _add_year(commands: Any) -> None:
    year = commands.add_parser(
        "year",
        help="work a pack through a year of load, sun and outages",
        description="The sheet says how in its section [operation]. Exit code: 0 done, 1 a stop or "
        "something not known, 2 a sheet that cannot be used.",
    )
    year.add_argument("sheet", metavar="SHEET")
    year.add_argument("--json", action="store_true", help="for programs instead of people")
    year.add_argument("--outages", action="store_true", help="also how long it lasts alone")
    year.add_argument("--page", metavar="PAGE.html", type=Path, help="also write it as one page")
    year.add_argument("--force", action="store_true", help="replace any file of that name")
    year.set_defaults(run=_year)


def _add_searches(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the commands that try many designs."""
    for name, run, help_ in (
        ("arrangements", _arrangements, "which arrangements of the modules suit the equipment"),
        ("equipment", _equipment, "which inverters and chargers of a list suit the pack"),
        ("ways", _ways, "what would clear what holds a design up, each way proven"),
        ("growth", _growth, "what stays valid when the pack grows, and what to buy bigger now"),
    ):
        search = commands.add_parser(name, help=help_)
        search.add_argument("sheet", metavar="SHEET")
        if name == "arrangements":
            search.add_argument("--modules", type=int, help="how many are at hand")
        elif name != "growth":
            search.add_argument(
                "list",
                metavar="LIST.toml",
                nargs="?" if name == "ways" else None,
                help="sections [[inverter]] and [[charger]], each with a price if known"
                + ("" if name == "ways" else "; 'library' takes the classes of the library"),
            )
        if name == "equipment":
            search.add_argument("--budget", type=float, help="what may be spent, as the list pays")
        if name != "growth":
            search.add_argument("--jobs", type=int, default=1, help="processes to spread it over")
        search.add_argument("--json", action="store_true", help="for programs instead of people")
        search.set_defaults(run=run)

    _add_year(commands)
    _add_trial(commands)


def _sheet(typed: str) -> Path:
    """Return the file that was typed, or say what stands in its place."""
    from evpack.load.library import library  # noqa: PLC0415  each command loads only what it needs

    path = Path(typed)
    if not typed.strip():
        raise EvpackError("the name of a build sheet is needed, and an empty one was given")
    if path.is_dir():
        raise EvpackError(f"{typed}: is a folder; a build sheet in it is needed")
    key = path.name.removesuffix(".toml")
    examples = {entry.key for entry in library() if entry.kind == "example"}
    if key in examples and not path.exists():
        raise EvpackError(
            f"{typed}: there is no such file, but an example of that name: write it out with "
            f"'evpack library {key} > {key}.toml', then decide {key}.toml"
        )
    return path


def _decide(given: argparse.Namespace) -> int:
    from evpack.decide import decide  # noqa: PLC0415  each command loads only what it needs
    from evpack.design import design  # noqa: PLC0415
    from evpack.show import decision_record, decision_text  # noqa: PLC0415
    from evpack.workbook.page import opened  # noqa: PLC0415

    path = _sheet(given.sheet)
    with opened(path) as sheet:
        decision = decide(design(sheet.build()))
    if given.share:  # before anything is printed: a reader that goes away must not cost the page
        from evpack.workbook.share import share  # noqa: PLC0415

        print(f"written: {share(path, given.share, force=given.force)}", file=sys.stderr)
    if given.json:
        print(json.dumps(decision_record(decision), indent=2, allow_nan=False))
    else:
        print(decision_text(decision, full=given.full))
    return GO if decision.go else NO_GO


def _share(given: argparse.Namespace) -> int:
    from evpack.workbook.share import WORKBOOK, share  # noqa: PLC0415

    workbook = given.workbook or WORKBOOK
    page = share(_sheet(given.sheet), given.page, workbook, code=given.code, force=given.force)
    print(f"written: {page}")
    return GO


def _heap(given: argparse.Namespace) -> int:
    from evpack.show.cards import cards_html  # noqa: PLC0415
    from evpack.show.heap_page import heap_page  # noqa: PLC0415
    from evpack.show.record_matching import matching_record  # noqa: PLC0415

    path = Path(given.heap)
    if not path.suffix and not path.exists():
        path = evpack.example_batch(given.heap)
    made = evpack.match_heap(evpack.read_batch(path), proven=not given.quick)
    if given.json:
        print(json.dumps(matching_record(made), indent=2, allow_nan=False))
    else:
        print(evpack.as_text(made))
    for target, page in ((given.page, heap_page), (given.cards, cards_html)):
        if target is not None:
            _write(target, page(made), force=given.force)
            print(f"written: {target}", file=sys.stderr if given.json else sys.stdout)
    return GO


def _built(typed: str) -> Build:
    from evpack.workbook.page import opened  # noqa: PLC0415

    with opened(_sheet(typed)) as sheet:
        return sheet.build()


@contextmanager
def _spread(given: argparse.Namespace) -> Iterator[dict[str, object]]:
    """Yield how a search is to be carried out: over so many processes, telling how far it is."""
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415

    told: dict[str, object] = {"progress": _told} if sys.stderr.isatty() else {}
    if given.jobs < 1:
        raise EvpackError(f"--jobs must be 1 or more, got {given.jobs}")
    if given.jobs == 1:
        yield told
        return
    with ProcessPoolExecutor(given.jobs) as executor:
        yield {**told, "executor": executor}


def _told(done: int, of: int) -> None:
    print(f"\r{done} of {of}", end="\n" if done == of else "", file=sys.stderr, flush=True)


def _print(found: object, record: Callable[..., object], *, as_json: bool) -> None:
    if as_json:
        print(json.dumps(record(found), indent=2, allow_nan=False))
    else:
        print(evpack.as_text(found))


def _arrangements(given: argparse.Namespace) -> int:
    from evpack.show.record_search import ranking_record  # noqa: PLC0415

    build = _built(given.sheet)
    with _spread(given) as how:
        found = evpack.search_arrangements(build, given.modules, **how)
    _print(found, ranking_record, as_json=given.json)
    return NO_GO if found.best is None else GO


def _equipment(given: argparse.Namespace) -> int:
    from evpack.show.record_search import ranking_record  # noqa: PLC0415

    build, listed = _built(given.sheet), _listed(given.list)
    with _spread(given) as how:
        found = evpack.search_equipment(build, listed, budget=given.budget, **how)
    _print(found, ranking_record, as_json=given.json)
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
    from evpack.show.record_search import ways_record  # noqa: PLC0415

    build = _built(given.sheet)
    listed = None if given.list is None else _listed(given.list)
    with _spread(given) as how:
        found = evpack.find_ways(build, equipment=listed, **how)
    _print(found, ways_record, as_json=given.json)
    return GO if found.now.go or found.to_go else NO_GO


def _growth(given: argparse.Namespace) -> int:
    from evpack.show.record_search import grown_record  # noqa: PLC0415

    _print(evpack.search_growth(_built(given.sheet)), grown_record, as_json=given.json)
    return GO


def _write(target: Path, text: str, *, force: bool) -> None:
    try:
        with target.open("w" if force else "x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise EvpackError(f"{target}: is there already; --force replaces it") from None
    except OSError as problem:
        raise EvpackError(f"{target}: cannot be written: {problem.strerror}") from None


_WIDE = 30  # characters of the bar that tells how far a long run is


def _trial(given: argparse.Namespace) -> int:
    from evpack.design import design  # noqa: PLC0415
    from evpack.show.record_trials import trial_record  # noqa: PLC0415

    found = evpack.try_settings(design(_built(given.sheet)))
    _print(found, trial_record, as_json=given.json)
    return NO_GO if any(finding.holds for finding in found.findings) else GO


def _year(given: argparse.Namespace) -> int:
    from evpack.design import design  # noqa: PLC0415
    from evpack.show.operation_page import operation_page  # noqa: PLC0415
    from evpack.show.record_operation import operation_record, outage_record  # noqa: PLC0415

    made = design(_built(given.sheet))
    run = evpack.simulate_operation(made, progress=_bar if sys.stderr.isatty() else None)
    alone = evpack.outage_runtimes(made, run=run) if given.outages else None
    if given.page is not None:
        _write(given.page, operation_page(run, alone), force=given.force)
        print(f"written: {given.page}", file=sys.stderr)
    if given.json:
        told = operation_record(run) | ({} if alone is None else {"alone": outage_record(alone)})
        print(json.dumps(told, indent=2, allow_nan=False))
    else:
        print("\n\n".join(evpack.as_text(one) for one in (run, alone) if one is not None))
    return NO_GO if any(finding.holds for finding in run.findings) else GO


def _bar(part: float) -> None:
    filled = round(part * _WIDE)
    end = "\n" if part >= 1 else ""
    print(
        f"\r[{'#' * filled}{' ' * (_WIDE - filled)}] {part:4.0%}",
        end=end,
        file=sys.stderr,
        flush=True,
    )


def _log(given: argparse.Namespace) -> int:
    from evpack.design import design  # noqa: PLC0415
    from evpack.workbook.page import opened  # noqa: PLC0415

    with opened(_sheet(given.sheet)) as sheet:
        made = design(sheet.build())
    after = evpack.compare_log(made, evpack.read_pack_log(given.log))
    print(evpack.as_text(after))
    return NO_GO if any(finding.holds for finding in after.findings) else GO


def _workbooks(given: argparse.Namespace) -> int:
    from evpack.load.places import data_dir, workbooks  # noqa: PLC0415

    folder: Path = given.folder
    sources = workbooks()
    _copy(sources.values(), folder)
    _copy(sorted((data_dir() / "examples").glob("*.toml")), folder / "examples")
    heaps = data_dir() / "batches"
    _copy(sorted([*heaps.glob("*.toml"), *heaps.glob("*.csv")]), folder / "heaps")
    if given.no_open:
        return GO
    first = sources["start-here"].name
    # The same Python that runs this command, and no other.
    return subprocess.run(  # noqa: S603  nothing here comes from a file
        [
            *(sys.executable, "-m", "jupyterlab"),
            f"--ServerApp.root_dir={folder.resolve()}",
            str(folder.resolve() / first),
        ],
        check=False,
    ).returncode


def _copy(sources: Iterable[Path], folder: Path) -> None:
    """Copy files into a folder and say so; a file that is there already is somebody's work."""
    try:
        if folder.exists() and not folder.is_dir():
            raise EvpackError(f"{folder}: is a file; a folder to copy to is needed")
        folder.mkdir(parents=True, exist_ok=True)
        for source in sources:
            target = folder / source.name
            try:
                with source.open("rb") as old, target.open("xb") as new:
                    shutil.copyfileobj(old, new)
                print(f"copied: {target}")
            except FileExistsError:
                print(f"kept yours: {target}")
    except OSError as problem:
        raise EvpackError(f"{problem.filename}: cannot be written: {problem.strerror}") from None


def _library(given: argparse.Namespace) -> int:
    from evpack.load import library as held  # noqa: PLC0415
    from evpack.show.text import as_text  # noqa: PLC0415

    entries = [e for e in held.library() if given.key in {None, e.key}]
    if not entries:
        known = {entry.key for entry in held.library()}
        raise EvpackError(f"'{given.key}' is not in the library{nearest(given.key, known)}")
    if given.key is None:
        for kind in dict.fromkeys(entry.kind for entry in entries):
            print(f"\n{kind}")
            for entry in (e for e in entries if e.kind == kind):
                print(f"  {entry.key:<22} {entry.name}")
        return GO
    take: dict[str, Callable[[str], object]] = {
        "chemistry": held.chemistry,
        "module": held.module_entry,
        "inverter": held.inverter_entry,
        "charger": held.charger_entry,
        "profile": held.lead_acid_profile,
    }
    for entry in entries:
        if entry.kind in take:
            print(as_text(take[entry.kind](entry.key)))
            typed = held.as_typed(entry)
            if typed:
                print(f"\nIn a build sheet, with its keys to type over:\n\n{typed}")
        else:
            print(held.example(entry.key).read_text(encoding="utf-8"))
    return GO


def _start(given: argparse.Namespace) -> int:
    target = evpack.start_sheet(given.sheet)
    print(f"written: {target}\nFill it in, then: evpack decide {target}")
    return GO


if __name__ == "__main__":
    sys.exit(main())
