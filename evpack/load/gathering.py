"""Several refusals told at once, so that a sheet is put right in one round and not in ten."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from evpack.base.errors import DataError

_MOST_TOLD = 10


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
