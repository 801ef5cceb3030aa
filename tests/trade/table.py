"""The table of trade builds: each a complete build sheet, with what the trade says of it.

``parts.toml`` holds devices, ``bases.toml`` a complete sheet for each class of voltage, ``go.toml``
and ``not_go.toml`` the builds: a base with a few keys set or dropped, the verdict, and why. What is
expected is judged by hand; where evpack says otherwise today, ``disputes.toml`` says why that is
held to be wrong. A build grows out of every dispute: add it there first, then mend the rule.
"""

from __future__ import annotations

import copy
import json
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import attrs

from evpack.base.errors import EvpackError
from evpack.base.finding import Finding, Severity
from evpack.decide import decide
from evpack.design import design
from evpack.load.sheet import parse_sheet
from evpack.outcome.design import Verdict

HERE = Path(__file__).parent
GO, NOT_GO = "go", "not go"
_GOES = (Verdict.WORKS, Verdict.WORKS_WITH_LIMITS)
_PART = "part:"


@attrs.frozen(kw_only=True)
class TradeBuild:
    """A build, and what the trade says of it.

    Parameters
    ----------
    must : {"go", "not go"}
    rule, severity : str
        Of a build that must not go: the finding that must hold it, and how.
    refused : str
        Of a build that must not even be taken: the key that the refusal must name.
    why, source : str
        The numbers worked by hand, and the clause, print or practice that they stand on.
    disputed : tuple of str
        What evpack says today, and why that is held to be wrong; empty where they agree.
    waiting : str
        What a sheet cannot say yet, or evpack cannot ask; until then it comes out wrong.
    verdict : str
        The exact verdict, where that is judged too.
    fuses : dict
        Of a build that goes: the sizes [A] that somebody of the trade would take, by the kind of
        circuit; evpack must choose one of them.
    keys, drop : what is set in the base, by dotted path, and what is left out of it.
    """

    name: str
    base: str
    must: str
    why: str
    source: str
    rule: str = ""
    severity: str = ""
    refused: str = ""
    disputed: tuple[str, ...] = ()
    waiting: str = ""
    verdict: str = ""
    fuses: dict[str, list[float]] = attrs.field(factory=dict)
    keys: dict[str, Any] = attrs.field(factory=dict)
    drop: tuple[str, ...] = attrs.field(converter=tuple, default=())

    @property
    def wrong(self) -> str:
        """Return why it comes out otherwise than judged today; empty where it does not."""
        waits = f"It waits for: {self.waiting}." if self.waiting else ""
        return " ".join([*self.disputed, waits]).strip()

    @property
    def document(self) -> dict[str, Any]:
        """Return the whole sheet as a document."""
        sheet = {"title": self.name, "invented": True, **copy.deepcopy(_read("bases")[self.base])}
        sheet = _with_parts(sheet)
        for path in self.drop:
            _drop(sheet, path)
        for path, value in self.keys.items():
            _set(sheet, path, _with_parts(value))
        return sheet

    @property
    def sheet(self) -> str:
        """Return the whole build sheet as the text of a TOML file."""
        return written(self.document)


@attrs.frozen(kw_only=True)
class Judged:
    """What evpack says of a build: the verdict and the findings that hold it, or the refusal."""

    verdict: Verdict | None = None
    findings: tuple[Finding, ...] = ()
    refusal: str = ""
    fuses: tuple[tuple[str, float | None], ...] = ()

    @property
    def holding(self) -> tuple[Finding, ...]:
        """Return the findings that hold the build."""
        return tuple(found for found in self.findings if found.holds)

    def __str__(self) -> str:
        if self.refusal:
            return f"refused: {self.refusal}"
        lines = [f"{found.rule.key}: {found}" for found in self.holding]
        sizes = ", ".join(f"{kind} {size} A" for kind, size in self.fuses)
        return "\n".join([str(self.verdict), f"fuses: {sizes}", *lines])


@cache
def _read(name: str) -> dict[str, Any]:
    return tomllib.loads((HERE / f"{name}.toml").read_text(encoding="utf-8"))


@cache
def trade_builds() -> tuple[TradeBuild, ...]:
    """Return every build of the table."""
    found = []
    for file, must in (("go", GO), ("not_go", NOT_GO)):
        for entry in _read(file)["build"]:
            rest = {key: value for key, value in entry.items() if key != "set"}
            rest["disputed"] = tuple(
                f"{each['today']} {each['held']}"
                for each in disputes()
                if entry["name"] in each["builds"]
            )
            found.append(TradeBuild(must=must, keys=entry.get("set", {}), **rest))
    return tuple(found)


def disputes() -> list[dict[str, Any]]:
    """Return where evpack says otherwise than the trade: `today`, `held`, and which `builds`."""
    found: list[dict[str, Any]] = _read("disputes").get("dispute", [])
    return found


def judge(build: TradeBuild) -> Judged:
    """Return what evpack says of a build."""
    try:
        read = parse_sheet(build.sheet, build.name)
    except EvpackError as refusal:
        return Judged(refusal=str(refusal))
    decision = decide(design(read))
    findings, schedule = decision.design.findings, decision.design.protection
    if schedule is None:  # held before anything was sized
        return Judged(verdict=decision.verdict, findings=findings)
    kinds = {circuit.place: circuit.kind for circuit in schedule.circuits}
    sizes = tuple((kinds[fuse.place], fuse.size) for fuse in schedule.fuses)
    return Judged(verdict=decision.verdict, findings=findings, fuses=sizes)


def as_judged(build: TradeBuild, judged: Judged) -> bool:
    """Return whether evpack says of a build what the trade says of it, and for the same reason."""
    if build.verdict and str(judged.verdict) != build.verdict:
        return False
    if build.must == GO:
        chosen = [(size, build.fuses.get(kind)) for kind, size in judged.fuses]
        fit = all(taken is None or size in taken for size, taken in chosen)
        return judged.verdict in _GOES and not judged.holding and fit
    if build.refused:
        return build.refused in judged.refusal
    return judged.verdict is not None and any(
        found.rule.key == build.rule and found.severity is Severity[build.severity.upper()]
        for found in judged.holding
    )


# --- A sheet out of bases and parts -------------------------------------------------------------


def _with_parts(value: Any) -> Any:
    """Return a value with every "part:…" in it replaced by that part."""
    if isinstance(value, str) and value.startswith(_PART):
        return _with_parts(_read("parts")[value.removeprefix(_PART)])
    if isinstance(value, list):
        return [_with_parts(each) for each in value]
    if not isinstance(value, dict):
        return value
    found = {key: _with_parts(each) for key, each in value.items()}
    under = found.get("use")
    if isinstance(under, dict):  # a part with some of its keys changed
        return {**copy.deepcopy(under), **{k: v for k, v in found.items() if k != "use"}}
    return found


def _step(path: str) -> list[str | int]:
    return [int(part) if part.isdigit() else part for part in path.split(".")]


def _set(sheet: dict[str, Any], path: str, value: Any) -> None:
    at: Any = sheet
    *way, last = _step(path)
    for step in way:
        at = at[step] if isinstance(step, int) else at.setdefault(step, {})
    if isinstance(last, int) and last == len(at):
        at.append(value)
    else:
        at[last] = value


def _drop(sheet: dict[str, Any], path: str) -> None:
    at: Any = sheet
    *way, last = _step(path)
    for step in way:
        at = at[step]
    del at[last]


def written(document: dict[str, Any]) -> str:
    """Return a document as the text of a TOML file."""
    return "\n".join(_table(document, ())) + "\n"


def _table(table: dict[str, Any], path: tuple[str, ...]) -> list[str]:
    lines, below = [], []
    for key, value in table.items():
        here = (*path, key if key.replace("_", "").isalnum() else json.dumps(key))
        if isinstance(value, dict):
            below += ["", f"[{'.'.join(here)}]", *_table(value, here)]
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for each in value:
                below += ["", f"[[{'.'.join(here)}]]", *_table(each, here)]
        else:
            lines.append(f"{here[-1]} = {_plain(value)}")
    return lines + below


def _plain(value: Any) -> str:
    """Return a value as TOML writes it: of text, numbers, truth and lists of them as JSON does."""
    return json.dumps(value, ensure_ascii=False)
