"""Where a number comes from, and what a device does not have."""

import pytest

from evpack.base.errors import DescriptionError
from evpack.base.fitted import NOT_FITTED, is_not_fitted
from evpack.base.source import IN_WORDS, Seen, Source, seen_named


def test_a_source_says_how_closely_it_was_seen() -> None:
    source = Source(key="x-1", title="Some Standard", edition="2004", seen="copy")
    assert source.seen is Seen.COPY
    assert str(source) == "Some Standard, 2004 (seen second hand)"


def test_a_source_without_an_edition_says_none() -> None:
    habit = Source(key="habit", title="A habit", seen=Seen.PRACTICE)
    assert str(habit) == "A habit (common practice, no document)"


@pytest.mark.parametrize("seen", Seen)
def test_every_way_of_seeing_has_its_words(seen: Seen) -> None:
    assert IN_WORDS[seen]
    assert seen_named(seen.value) is seen


def test_an_unknown_way_of_seeing_is_refused() -> None:
    with pytest.raises(DescriptionError, match=r"seen 'memry' is not known \(did you mean 'mem"):
        Source(key="x", title="X", seen="memry")


@pytest.mark.parametrize("word", ["none", " None ", "NONE", NOT_FITTED])
def test_none_in_words_means_not_fitted(word: object) -> None:
    assert is_not_fitted(word)


@pytest.mark.parametrize("word", [None, "", "no", "48 V", 0, False, "nonesuch"])
def test_unknown_is_not_the_same_as_not_fitted(word: object) -> None:
    assert not is_not_fitted(word)


def test_not_fitted_shows_its_name() -> None:
    assert repr(NOT_FITTED) == "NOT_FITTED"
