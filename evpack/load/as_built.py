"""The as-built record: a TOML file with blanks that evpack writes and a person fills in."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Mapping
from pathlib import Path

from evpack.base.errors import DataError, DescriptionError, UnitError, nearest
from evpack.load.chemistries import shipped
from evpack.load.fields import Gathering, Place, check_keys, got, section, text
from evpack.load.text import Toml, read_text, read_toml
from evpack.outcome.commissioning import (
    LEAD,
    AsBuilt,
    CommissioningPlan,
    CommissioningStep,
    Written,
)

_YES = {"yes": True, "no": False}
_HEAD = ("title", "mark", "by", "on", "note")
_ASKED, _MARKS = "asked", "marks"
_PER_CELL = "/cell"
_WIDE = 90
_LONGEST_KEY = 120  # of a key that is told
# No TOML file may hold these, not even in a comment.
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


def record_text(plan: CommissioningPlan, values: Mapping[str, Written] | None = None) -> str:
    """Return a record to fill in for a plan; `values` are filled in already, by their key."""
    values = {} if values is None else values
    lines = [
        f"# As-built record of {_one_line(plan.title)}. Write between the quotes: yes or no, or a",
        "# value with its unit, as read. What is not done yet stays empty: it is not proven.",
        "#",
        *_wrapped(LEAD),
        f"title = {json.dumps(_one_line(plan.title), ensure_ascii=False)}",
        f'mark = "{plan.mark}"  # of what is expected; leave it',
        'by = ""     # who did it and vouches for it',
        'on = ""     # the date, as 2026-05-31',
        'note = ""',
    ]
    for stage, steps in plan.stages.items():
        lines += ["", f"# {stage}", f"[{steps[0].key.partition('.')[0]}]"]
        for step, told in zip(steps, ("", *(s.if_not for s in steps)), strict=False):
            # What is the same for all of a list is told once.
            if_not = f" If not: {step.if_not}" if step.if_not not in {"", told} else ""
            lines += [
                *_wrapped(f"{step.title}. {step.todo} Expected: {step.expected}.{if_not}"),
                f'{step.key.partition(".")[2]} = "{_told(step, values.get(step.key))}"',
            ]
    lines += [
        "",
        "# What was asked, in short marks; leave it. Should the design change, it tells which",
        "# answers were given to something else.",
        f"[{_ASKED}]",
        f'{_MARKS} = """',
        *textwrap.wrap(" ".join(sorted(plan.asked)), _WIDE),
        '"""',
    ]
    return "\n".join(lines) + "\n"


def _told(step: CommissioningStep, value: Written | None) -> str:
    """Write a value so that nothing of it is lost when it is read again."""
    if value is None:
        return ""
    if step.kind is None or isinstance(value, bool):
        return "yes" if value is True else "no"
    # What has no unit is a share, and needs one as well.
    return f"{value!r} {step.kind.unit}" if step.kind.unit else f"{value * 100:.12g} %"


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
    """Return what the text of a record says; `name` stands in messages.

    In a record that was begun for another state of the design, what this plan does not ask (or
    asks in another way) is no mistake of the person who filled it in: it is left over.
    """
    place = Place(name)
    try:
        document = read_toml(record, name)
    except DataError as problem:
        if problem.key == "on":  # TOML has dates of its own, without quotes
            raise place.at("on").refuse('write the date in quotes: on = "2026-05-31"') from None
        raise
    problems = Gathering()
    head = {}
    for key in _HEAD:
        with problems.keeping():
            head[key] = text(document, key, place, default="").strip()
    values: dict[str, Written] = {}
    left_over: list[str] = []
    if head.get("mark", "") in {"", plan.mark}:
        with problems.keeping():
            check_keys(document, place, (*_HEAD, _ASKED, *_by_table(plan)))
        _fill(values, problems, document, plan, place)
    else:
        left_over = _what_fits(values, document, plan, place)
    asked: frozenset[str] = frozenset()
    with problems.keeping():
        asked = frozenset(
            text(section(document, _ASKED, place), _MARKS, place.at(_ASKED), default="").split()
        )
    made = None
    with problems.keeping():
        try:
            made = AsBuilt(
                name=name,
                by=head.get("by", ""),
                on=head.get("on", ""),
                mark=head.get("mark", ""),
                asked=asked,
                values=values,
                left_over=tuple(left_over),
                note=head.get("note", ""),
            )
        except DescriptionError as problem:
            raise place.refuse(str(problem)) from None
    problems.done()
    assert made is not None  # noqa: S101  (told to the type checker: else a problem was raised)
    return made


def _by_table(plan: CommissioningPlan) -> dict[str, dict[str, CommissioningStep]]:
    found: dict[str, dict[str, CommissioningStep]] = {}
    for step in plan.steps:
        table, _, key = step.key.partition(".")
        found.setdefault(table, {})[key] = step
    return found


def _fill(
    values: dict[str, Written],
    problems: Gathering,
    document: Toml,
    plan: CommissioningPlan,
    place: Place,
) -> None:
    """Read every table of a record that was begun for this plan."""
    for table, steps in _by_table(plan).items():
        below = place.at(table)
        given: Toml = {}
        with problems.keeping():
            given = section(document, table, place)
            check_keys(given, below, tuple(steps))
        for key in given:
            if key in steps:
                with problems.keeping():
                    value = _value(given[key], steps[key], below.at(key))
                    if value is not None:
                        values[steps[key].key] = value


def _what_fits(
    values: dict[str, Written], document: Toml, plan: CommissioningPlan, place: Place
) -> list[str]:
    """Read what this plan asks too, and return the keys of what else was filled in."""
    by_table, left = _by_table(plan), []
    for table, given in document.items():
        if table in _HEAD or table == _ASKED:
            continue
        if not isinstance(given, Mapping):
            left.append(table)
            continue
        for key, written in given.items():
            if isinstance(written, str) and not written.strip():
                continue
            step = by_table.get(table, {}).get(key)
            try:
                value = None if step is None else _value(written, step, place)
            except DataError:
                value = None
            if step is None or value is None:
                left.append(f"{table}.{key}"[:_LONGEST_KEY])
            else:
                values[step.key] = value
    return left


def _value(given: object, step: CommissioningStep, place: Place) -> Written | None:
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
    if isinstance(given, str) and step.entry.endswith(_PER_CELL):
        # The sheet writes entries of the cell monitoring so, and so they are copied.
        given = given.strip().removesuffix(_PER_CELL)
    try:
        return float(step.kind.read(given).m)
    except UnitError as problem:
        raise place.refuse(str(problem)) from None
