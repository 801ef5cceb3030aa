"""The as-built record: a TOML file with blanks that evpack writes and a person fills in."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Mapping
from pathlib import Path

from evpack.base.errors import DataError, UnitError, nearest
from evpack.load.chemistries import shipped
from evpack.load.fields import Place, check_keys, got, text
from evpack.load.gathering import Gathering
from evpack.load.text import read_text, read_toml
from evpack.outcome.commissioning import AsBuilt, CommissioningPlan, CommissioningStep

_YES = {"yes": True, "no": False}
_HEAD = ("title", "mark", "by", "on", "note")
_WIDE = 90
# No TOML file may hold these, not even in a comment.
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


def record_text(plan: CommissioningPlan) -> str:
    """Return a record to fill in for a plan."""
    lines = [
        f"# As-built record of {_one_line(plan.title)}. Write between the quotes: yes or no, or a",
        "# value with its unit, as read. What is not done yet stays empty: it is not proven.",
        f"title = {json.dumps(_one_line(plan.title), ensure_ascii=False)}",
        f'mark = "{plan.mark}"  # of what is expected; leave it',
        'by = ""     # who did it and vouches for it',
        'on = ""     # the date, as 2026-05-31',
        'note = ""',
    ]
    for stage, steps in plan.stages.items():
        lines += ["", f"# {stage}", f"[{steps[0].key.partition('.')[0]}]"]
        for step in steps:
            lines += [
                *_wrapped(f"{step.title}. {step.todo} Expected: {step.expected}."),
                _blank(step),
            ]
    return "\n".join(lines) + "\n"


def _blank(step: CommissioningStep) -> str:
    return f'{step.key.partition(".")[2]} = ""'


def _one_line(words: str) -> str:
    return " ".join(_CONTROL.sub(" ", words).split())


def _wrapped(words: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(_one_line(words), _WIDE)]


def example_as_built(name: str) -> Path:
    """Return the file of an example record, of the example build sheet of that name.

    Raises
    ------
    DataError
        There is none of that name; the nearest is named.
    """
    known = shipped("as_built")
    if name not in known:
        raise DataError("as_built", name, f"is no example{nearest(name, known)}")
    return known[name]


def read_as_built(path: str | Path, plan: CommissioningPlan) -> AsBuilt:
    """Read an as-built record.

    Parameters
    ----------
    plan : CommissioningPlan
        What the record is of: it says which keys there are, and in which unit each value is due.

    Raises
    ------
    DataError
        A file that cannot be read, a key that no step has, an answer that is neither yes nor no, a
        value without its unit: the message names file and key, what was got, what is needed.
    """
    return parse_as_built(read_text(Path(path), str(path)), plan, Path(path).name)


def parse_as_built(record: str, plan: CommissioningPlan, name: str = "record") -> AsBuilt:
    """Return what the text of a record says; `name` stands in messages."""
    document, place = read_toml(record, name), Place(name)
    by_table: dict[str, dict[str, CommissioningStep]] = {}
    for step in plan.steps:
        table, _, key = step.key.partition(".")
        by_table.setdefault(table, {})[key] = step
    problems = Gathering()
    with problems.keeping():
        check_keys(document, place, (*_HEAD, *by_table))
    values: dict[str, bool | float] = {}
    for table, steps in by_table.items():
        if table not in document:
            continue
        below, given = place.at(table), document[table]
        if not isinstance(given, Mapping):
            with problems.keeping():
                raise below.refuse(f"{got(given)}, where a section [{table}] is due")
            continue
        with problems.keeping():
            check_keys(given, below, tuple(steps))
        for key in given:
            if key in steps:
                with problems.keeping():
                    value = _value(given[key], steps[key], below.at(key))
                    if value is not None:
                        values[steps[key].key] = value
    head = {}
    for key in _HEAD:
        with problems.keeping():
            head[key] = text(document, key, place).strip() if key in document else ""
    problems.done()
    return AsBuilt(
        name=name,
        by=head["by"],
        on=head["on"],
        mark=head["mark"],
        values=values,
        note=head["note"],
    )


def _value(given: object, step: CommissioningStep, place: Place) -> bool | float | None:
    """Return what was written; None for a blank."""
    if isinstance(given, str) and not given.strip():
        return None
    if step.kind is None:
        if isinstance(given, bool):
            return given
        answer = _YES.get(given.strip().lower()) if isinstance(given, str) else None
        if answer is None:
            raise place.refuse(f'{got(given)}; "yes" or "no" is needed, or nothing yet: ""')
        return answer
    try:
        return float(step.kind.read(given).m)
    except UnitError as problem:
        raise place.refuse(str(problem)) from None
