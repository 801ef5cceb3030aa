"""How a number is known, field by field."""

import pytest

from evpack.base.basis import ALL_ASSUMED, ALL_CHOSEN, Bases, Basis, bases, basis_named, weakest
from evpack.base.errors import DescriptionError


@pytest.mark.parametrize("basis", Basis)
def test_every_basis_is_named_by_its_word_and_by_itself(basis: Basis) -> None:
    assert basis_named(basis.value) is basis
    assert basis_named(basis) is basis


def test_an_unknown_word_is_refused_with_the_nearest() -> None:
    with pytest.raises(DescriptionError, match=r"basis 'mesured' is not known \(did you mean 'mea"):
        basis_named("mesured")


@pytest.mark.parametrize("word", [None, 3, "", "guess"])
def test_no_word_is_refused(word: object) -> None:
    with pytest.raises(DescriptionError, match="is not known"):
        basis_named(word)


def test_nothing_said_is_assumed() -> None:
    assert Bases().of("capacity") is Basis.ASSUMED
    assert bases({}).of("capacity") is Basis.ASSUMED
    assert ALL_ASSUMED.of("anything") is Basis.ASSUMED
    assert ALL_CHOSEN.of("anything") is Basis.CHOSEN


def test_one_word_holds_for_every_field() -> None:
    assert bases("datasheet").of("capacity") is Basis.DATASHEET
    assert bases(Basis.MEASURED).of("capacity") is Basis.MEASURED


def test_a_mapping_holds_by_field_and_its_default_for_the_rest() -> None:
    given = bases({"default": "datasheet", "capacity": "measured", "resistance": Basis.ASSUMED})
    assert given.of("capacity") is Basis.MEASURED
    assert given.of("resistance") is Basis.ASSUMED
    assert given.of("charge_limit") is Basis.DATASHEET
    assert given.of("default") is Basis.DATASHEET


def test_bases_pass_unchanged() -> None:
    given = Bases(Basis.CHOSEN, {"float": Basis.MEASURED})
    assert bases(given) is given


def test_exceptions_are_added_to_a_copy() -> None:
    before = Bases(Basis.DATASHEET, {"capacity": Basis.ASSUMED})
    after = before.but(capacity=Basis.MEASURED, resistance=Basis.COMPUTED)
    assert after.of("capacity") is Basis.MEASURED
    assert after.of("resistance") is Basis.COMPUTED
    assert after.of("other") is Basis.DATASHEET
    assert before.of("capacity") is Basis.ASSUMED


def test_a_sum_is_as_well_known_as_the_worst_of_it() -> None:
    read, chosen, guess = Basis.DATASHEET, Basis.CHOSEN, Basis.ASSUMED
    assert weakest((Basis.MEASURED, read)) is read
    assert weakest((read, Basis.COMPUTED, chosen)) is Basis.COMPUTED
    assert weakest((read, guess, chosen)) is guess
    assert weakest(()) is Basis.COMPUTED


def test_what_was_confirmed_is_so_of_that_value_alone() -> None:
    sure = Bases(Basis.DATASHEET).confirming("capacity", "charge_limit")
    assert sure.confirmed == {"capacity", "charge_limit"}
    other = sure.but(capacity=Basis.MEASURED)  # another value now
    assert other.confirmed == {"charge_limit"}
    assert sure.confirming("resistance").but(spread=Basis.CHOSEN).confirmed == {
        "capacity",
        "charge_limit",
        "resistance",
    }


def test_a_wrong_word_inside_a_mapping_is_refused() -> None:
    with pytest.raises(DescriptionError, match="basis 'seen' is not known"):
        bases({"capacity": "seen"})
