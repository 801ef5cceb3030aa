"""A TOML table becomes a noun: every key known, every value of its kind, or a clear refusal.

What a key may hold follows from the noun's own annotations, so that file and noun cannot drift
apart. Several refusals are told at once, so that a sheet is put right in one round and not in ten.
"""

from __future__ import annotations

import functools
import typing
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

import attrs
import pint

from evpack.base.basis import Bases, Basis, basis_named
from evpack.base.errors import DataError, DescriptionError, EvpackError, nearest
from evpack.base.fitted import NOT_FITTED, NotFitted, is_not_fitted
from evpack.describe.ranges import CurrentRange, VoltageRange
from evpack.load.text import Toml

_MOST_TOLD = 10

T = TypeVar("T")
_RANGE_KEYS = ("from", "to", "step")
BESIDE = ("basis", "confirmed")  # what may be said of a value beside it
_LONGEST_QUANTITY = 60
_MOST_ALIKE = 100  # sections of one kind


class SeveralDataError(DataError):
    """More than one refusal of a file; `errors` holds them, `key` is the first one's."""

    def __init__(self, errors: Sequence[DataError]) -> None:
        told = [f"{e.key}: {e.problem}" if e.key else e.problem for e in errors[:_MOST_TOLD]]
        more = len(errors) - len(told)
        told += [f"and {more} more"] if more else []
        super().__init__(
            errors[0].file, "", "\n  ".join([f"{len(errors)} things to put right:", *told])
        )
        self.key = errors[0].key
        self.errors = tuple(errors)


class Gathering:
    """Keeps the refusals of several blocks until `done` raises them together."""

    def __init__(self) -> None:
        self._errors: list[DataError] = []

    @contextmanager
    def keeping(self) -> Iterator[None]:
        """Keep a refusal within and go on after the block."""
        try:
            yield
        except SeveralDataError as several:
            self._errors += several.errors
        except DataError as problem:
            self._errors.append(problem)

    def done(self) -> None:
        """Raise what was kept, if anything was."""
        if len(self._errors) == 1:
            raise self._errors[0]
        if self._errors:
            raise SeveralDataError(self._errors)


@attrs.frozen
class Place:
    """Where in a file something stands, for messages."""

    file: str
    key: str = ""

    def at(self, name: str) -> Place:
        """Return the place of a key below this one."""
        return Place(self.file, f"{self.key}.{name}" if self.key else name)

    def refuse(self, problem: str) -> DataError:
        """Return the error that tells of a problem here."""
        return DataError(self.file, self.key, problem)

    @contextmanager
    def refusing(self) -> Iterator[None]:
        """Turn any other refusal of evpack within into one that names this place."""
        try:
            yield
        except DataError:
            raise
        except EvpackError as problem:
            raise self.refuse(str(problem)) from None


@attrs.frozen
class Given:
    """Values read for a noun's fields, each with how it is known, and those confirmed by name."""

    values: Mapping[str, Any] = attrs.field(factory=dict)
    bases: Mapping[str, Basis] = attrs.field(factory=dict)
    confirmed: frozenset[str] = frozenset()

    def over(self, lower: Given) -> Given:
        """Return these values, and for what they leave unsaid those of `lower`."""
        return Given(
            {**lower.values, **self.values},
            {**lower.bases, **self.bases},
            self.confirmed | lower.confirmed.difference(self.values),
        )


@attrs.frozen
class _Field:
    """One field of a noun, with the way to read it from TOML."""

    attribute: Any
    read: Callable[[object], object]

    def convert(self, raw: object, place: Place) -> object:
        """Return the value as the noun will hold it."""
        with place.refusing():
            value = self.read(raw)
            if self.attribute.converter is not None:
                value = self.attribute.converter(value)
            if self.attribute.validator is not None:
                self.attribute.validator(None, self.attribute, value)
        return value


def section(document: Toml, name: str, place: Place) -> Toml:
    """Return a table of the document; empty when it is not there."""
    found = document.get(name, {})
    if not isinstance(found, dict):
        raise place.at(name).refuse(f"{got(found)}, where a section [{name}] is due")
    return found


def tables(
    document: Toml, name: str, place: Place, otherwise: str = ""
) -> Iterator[tuple[Toml, Place]]:
    """Return the tables of ``[[name]]`` (or the one of ``[name]``), each with its place.

    `otherwise` ends the refusal of anything else: what may stand there instead.
    """
    found = document.get(name, [])
    every = [found] if isinstance(found, Mapping) else found
    if not isinstance(every, list) or not all(isinstance(t, Mapping) for t in every):
        raise place.at(name).refuse(f"{got(found)}; sections [[{name}]] are needed{otherwise}")
    if len(every) > _MOST_ALIKE:
        raise place.at(name).refuse(f"{len(every)} of them; {_MOST_ALIKE} is the most")
    for number, table in enumerate(every, start=1):
        yield table, place.at(name if len(every) == 1 else f"{name}[{number}]")


def check_keys(table: Toml, place: Place, known: Collection[str]) -> None:
    """Refuse every key that nobody reads, with the nearest that is."""
    problems = Gathering()
    for key in table:
        if key not in known:
            with problems.keeping():
                raise place.at(key[:_LONGEST_QUANTITY]).refuse(
                    f"is not known here{nearest(key, known)}"
                )
    problems.done()


def text(table: Toml, key: str, place: Place, default: str | None = None) -> str:
    """Return a text of a table; refuse another kind of value, and nothing where it is needed."""
    if key not in table and default is not None:
        return default
    if key not in table:
        raise place.at(key).refuse("is missing")
    with place.at(key).refusing():
        return _text(table[key])


def basis_of(table: Toml, place: Place, usual: Basis) -> Basis:
    """Return how the typed values of a table are known, unless each says otherwise."""
    with place.at("basis").refusing():
        return basis_named(table["basis"]) if "basis" in table else usual


def read(
    noun: type, table: Toml, place: Place, usual: Basis, besides: Collection[str] = ()
) -> Given:
    """Read what a table says of a noun's fields.

    Parameters
    ----------
    noun : type
        An attrs class; the keys of the table are its fields' names.
    table : mapping
        The TOML table.
    place : Place
        Where it stands.
    usual : Basis
        How its values are known if the table does not say.
    besides : collection of str
        Keys that the caller reads.

    Raises
    ------
    DataError
        An unknown key, a value of another kind, a quantity without its unit.
    """
    fields = {key: field for key, field in _fields(noun).items() if key not in besides}
    problems = Gathering()
    with problems.keeping():
        check_keys(table, place, {*fields, *besides, "basis"})
    with problems.keeping():
        usual = basis_of(table, place, usual)
    values, bases, sure = {}, {}, set()
    for key, raw in table.items():
        if key in fields:
            with problems.keeping():
                plain, bases[key] = with_basis(raw, place.at(key), usual)
                values[key] = fields[key].convert(plain, place.at(key))
                if confirmed(raw, place.at(key)):
                    sure.add(key)
    problems.done()
    return Given(values, bases, frozenset(sure))


def build(noun: type[T], given: Given, place: Place, untouched: Basis, **more: Any) -> T:
    """Build a noun from what was read; fields that nobody touched are known as `untouched`.

    Raises
    ------
    DataError
        Something needed is missing, or the values together describe what cannot exist.
    """
    values = {**given.values, **more}
    needed: tuple[Any, ...] = attrs.fields(noun)  # type: ignore[arg-type]
    for field in needed:
        if field.default is attrs.NOTHING and field.name not in values:
            raise place.at(field.name).refuse("is missing")
    if any(field.name == "basis" for field in needed):
        values["basis"] = Bases(untouched, dict(given.bases), given.confirmed)
    return made(noun, values, place)


def made(noun: type[T], values: Mapping[str, Any], place: Place) -> T:
    """Return a noun of some values, or refuse at the key that it finds impossible."""
    try:
        return noun(**values)
    except DataError:
        raise
    except EvpackError as problem:
        usual = next((f.default for f in attrs.fields(noun) if f.name == "name"), None)  # type: ignore[arg-type]
        raise _placed(str(problem), {"name": usual, **values}, place) from None


def if_fitted(noun: type[T], raw: object, place: Place, usual: Basis) -> T | NotFitted:
    """Read a noun from its section; the word "none" says that there is no such thing."""
    if is_not_fitted(raw):
        return NOT_FITTED
    if not isinstance(raw, Mapping):
        raise place.refuse(
            f'{got(raw)}; a section [{place.key}] is needed, or "none" if there is no such thing'
        )
    return build(noun, read(noun, raw, place, usual), place, usual)


def _placed(told: str, values: Mapping[str, Any], place: Place) -> DataError:
    """Return a noun's own refusal at its key: one that begins with a field is that field's.

    A noun begins its sentences with its name, which the place says already.
    """
    for name in (values.get("name"), place.key):
        if name:
            told = told.removeprefix(f"{name}: ")
    field = told.split(maxsplit=1)[0].rstrip(":")
    return (place.at(field) if field in values else place).refuse(told)


def with_basis(raw: object, place: Place, usual: Basis) -> tuple[object, Basis]:
    """Take ``{ value = …, basis = … }`` apart; other values pass as they are.

    Whether it is `confirmed` is asked beside, and refused here where it is neither yes nor no.
    """
    if not isinstance(raw, dict):
        return raw, usual
    if "value" in raw:
        check_keys(raw, place, ("value", *BESIDE))
    confirmed(raw, place)
    rest = {key: value for key, value in raw.items() if key not in BESIDE}
    basis = basis_of(raw, place, usual)
    return rest.get("value", rest), basis


def confirmed(raw: object, place: Place) -> bool:
    """Return whether a value is said to be meant: ``{ value = …, confirmed = true }``."""
    if not isinstance(raw, Mapping) or "confirmed" not in raw:
        return False
    said = raw["confirmed"]
    if not isinstance(said, bool):
        raise place.at("confirmed").refuse(f"{got(said)}; true or false is needed, without quotes")
    return said


def got(value: object) -> str:
    """Name what was got, in a sentence's beginning: ``got 3``, ``got a list``."""
    if isinstance(value, dict):
        return "got a table"
    if isinstance(value, list):
        return "got a list"
    if isinstance(value, bool):
        return f"got {str(value).lower()}"
    if isinstance(value, str) and len(value) > _LONGEST_QUANTITY:
        return f"got a text of {len(value)} characters"
    return f"got '{value}'" if isinstance(value, str) else f"got {value}"


@functools.cache
def _fields(noun: type) -> dict[str, _Field]:
    """Return the fields of a noun that a plain TOML value can fill."""
    hints = typing.get_type_hints(noun)
    found = {}
    for attribute in attrs.fields(noun):
        reader = _reader(hints[attribute.name])
        if reader is not None and attribute.name != "basis":
            found[attribute.name] = _Field(attribute, reader)
    return found


def _reader(hint: Any) -> Callable[[object], object] | None:
    kinds = typing.get_args(hint) or (hint,)
    for kind, reader in _READERS:
        if kind in kinds:
            return reader
    return None


def _quantity(raw: object) -> object:
    if isinstance(raw, dict | list):
        odd = next((key for key in raw if key not in BESIDE), "") if isinstance(raw, dict) else ""
        why = f": '{odd[:40]}' is not known{nearest(odd, ('value', *BESIDE))}" if odd else ""
        raise DescriptionError(f"{got(raw)}, where a number and its unit in quotes are due{why}")
    if isinstance(raw, str) and len(raw) > _LONGEST_QUANTITY:
        raise DescriptionError(f"{got(raw)}, where a number and its unit are due")
    return raw


def _range(raw: object) -> object:
    if isinstance(raw, dict):
        if set(raw) != set(_RANGE_KEYS):
            missing = [key for key in _RANGE_KEYS if key not in raw]
            unknown = [key for key in raw if key not in _RANGE_KEYS]
            what = f"'{missing[0]}' is missing" if missing else f"'{unknown[0][:40]}' is not known"
            raise DescriptionError(f"{what}; {_RANGE_LIKE}")
        return tuple(_quantity(raw[key]) for key in _RANGE_KEYS)
    if is_not_fitted(raw) or (isinstance(raw, str) and raw.strip()[:1].isdigit()):
        return _quantity(raw)
    raise DescriptionError(f"{got(raw)}; {_RANGE_LIKE}")


_RANGE_LIKE = (
    'a range is { from = "40 V", to = "48 V", step = "0.1 V" } in the unit of its field, '
    '"44 V" if it stands at one value, or "none" if the device has no such setting'
)


def _flag(raw: object) -> object:
    if not isinstance(raw, bool):
        raise DescriptionError(f"{got(raw)}; true or false is needed; leave it out if not known")
    return raw


def _count(raw: object) -> object:
    if isinstance(raw, bool) or not isinstance(raw, int):
        raise DescriptionError(f"{got(raw)}; a whole number without quotes is needed")
    return raw


def _text(raw: object) -> str:
    if not isinstance(raw, str):
        raise DescriptionError(f"{got(raw)}; a text in quotes is needed")
    return raw


# Tried in order: the first kind that a field may hold says how it is read.
_READERS: tuple[tuple[Any, Callable[[object], object]], ...] = (
    (VoltageRange, _range),
    (CurrentRange, _range),
    (pint.Quantity, _quantity),
    (bool, _flag),
    (int, _count),
    (str, _text),
)
