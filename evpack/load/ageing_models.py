"""Published models of ageing, as `data/ageing/` holds them."""

from __future__ import annotations

import functools

from evpack.base.errors import nearest
from evpack.describe.ageing_model import AgeingModel, Constant
from evpack.kernels.ageing import MODELS
from evpack.load.chemistries import shipped
from evpack.load.fields import Place, check_keys, text
from evpack.load.text import Toml, read_text, read_toml

_KEYS = ("name", "form", "source", "chemistries", "fits", "constants")
_CONSTANT = ("symbol", "value", "unit", "how")


@functools.cache
def ageing_models() -> tuple[AgeingModel, ...]:
    """Return every model of the library, by the name of its file.

    Raises
    ------
    DataError
        A file that does not hold a model.
    """
    return tuple(
        read_model(key, read_toml(read_text(path, path.name), path.name), Place(path.name))
        for key, path in shipped("ageing").items()
    )


def read_model(key: str, table: Toml, place: Place) -> AgeingModel:
    """Return a model from its file."""
    check_keys(table, place, _KEYS)
    form = text(table, "form", place)
    if form not in MODELS:
        raise place.at("form").refuse(f"'{form}' is no formula held{nearest(form, MODELS)}")
    fitting = table.get("chemistries")
    if not isinstance(fitting, list) or not all(isinstance(one, str) for one in fitting):
        raise place.at("chemistries").refuse("needs a list of keys of chemistries")
    rows = table.get("constants")
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise place.at("constants").refuse("needs a table for each constant")
    with place.refusing():
        return AgeingModel(
            key=key,
            name=text(table, "name", place),
            form=form,
            source=text(table, "source", place),
            chemistries=tuple(fitting),
            fits=text(table, "fits", place),
            constants=tuple(_constant(row, place.at("constants")) for row in rows),
        )


def _constant(row: Toml, place: Place) -> Constant:
    check_keys(row, place, _CONSTANT)
    value = row.get("value")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise place.at("value").refuse(f"needs one plain number, got {value!r}")
    return Constant(
        symbol=text(row, "symbol", place),
        value=float(value),
        unit=text(row, "unit", place),
        how=text(row, "how", place),
    )
