"""Errors: a file's name and place in the text, and the nearest known word."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import (
    DataError,
    DescriptionError,
    EvpackError,
    OutsideTableError,
    UnitError,
    nearest,
)


@pytest.mark.parametrize("error", [DataError, DescriptionError, OutsideTableError, UnitError])
def test_every_refusal_is_evpacks_own_and_a_value_error(error: type) -> None:
    assert issubclass(error, EvpackError)
    assert issubclass(error, ValueError)


def test_a_data_error_says_where() -> None:
    error = DataError("barn.toml", "pack.strings", "must be a whole number")
    assert str(error) == "barn.toml: pack.strings: must be a whole number"
    assert (error.file, error.key, error.problem) == (
        "barn.toml",
        "pack.strings",
        "must be a whole number",
    )


def test_a_data_error_of_a_whole_file_names_no_key() -> None:
    assert str(DataError("barn.toml", "", "is empty")) == "barn.toml: is empty"


@pytest.mark.parametrize(
    ("word", "known", "hint"),
    [
        ("strngs", ["strings", "modules"], " (did you mean 'strings'?)"),
        ("KW", ["W", "kW"], " (did you mean 'kW'?)"),  # the other would be 1000 times less
        ("zzz", ["b", "a"], " (known here: a, b)"),
        ("zzz", [], ""),
        ("", ["a"], " (known here: a)"),
    ],
)
def test_nearest(word: str, known: list[str], hint: str) -> None:
    assert nearest(word, known) == hint


@given(st.text(), st.lists(st.text(min_size=1), min_size=1))
def test_nearest_only_ever_names_known_words(word: str, known: list[str]) -> None:
    hint = nearest(word, known)
    lawful = {f" (did you mean '{k}'?)" for k in known}
    assert hint in lawful | {f" (known here: {', '.join(sorted(known))})"}
