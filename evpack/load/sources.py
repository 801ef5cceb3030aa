"""The list of sources: every number of evpack names one of them."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from types import MappingProxyType

from evpack.base.errors import DataError, nearest
from evpack.base.source import Source
from evpack.load.places import data_dir
from evpack.load.text import read_text, read_toml

_FILE = "sources.toml"


@functools.cache
def sources() -> Mapping[str, Source]:
    """Return every source by its key."""
    tables = read_toml(read_text(data_dir() / _FILE, _FILE), _FILE)
    return MappingProxyType(
        {key: Source(key=key, **table) for key, table in tables.items() if isinstance(table, dict)}
    )


def source(key: str) -> Source:
    """Return the source of that key.

    Raises
    ------
    DataError
        There is none; the nearest key is named.
    """
    try:
        return sources()[key]
    except KeyError:
        raise DataError(_FILE, key, f"is no source{nearest(key, sources())}") from None
