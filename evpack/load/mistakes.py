"""What a line that is no TOML was probably meant to be, and what a foreign file is."""

from __future__ import annotations

import functools
import re
from pathlib import PurePath

import attrs

from evpack.base.errors import nearest
from evpack.describe.array import Array
from evpack.describe.cabling import Busbar, Cabling, Run
from evpack.describe.charger import Charger
from evpack.describe.fuses import FuseFamily
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy
from evpack.describe.safeguards import Disconnect, EmergencyOff, Precharge, Safeguards
from evpack.describe.site import Load, Site

_CURLY = re.compile(r"[=,\[{]\s*([“”„‟«»‘’‚])")
_TRUTH = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false"}
_TRUTH |= {"off": "false", "y": "true", "n": "false"}
_UNQUOTED = re.compile(
    r"=\s*(?P<number>[+\-]?\d[\d.,]*)\s*(?P<unit>[A-Za-zµΩ°%][\w/µΩ°%]*(?:\s[A-Z]+)?)\s*(?:[,}]|$)"
)
_BARE_WORD = re.compile(r"=\s*(?P<word>[A-Za-z][\w\-/ ]*?)\s*(?:[,}]|$)")
_SPACED_KEY = re.compile(r"\s*(?P<key>[A-Za-z]\w*(?:[ \-]+\w+)+)\s*=")
_COLON = re.compile(r"\s*[A-Za-z]\w*\s*:")
_NO_VALUE = re.compile(r"\s*[\w.]+\s*=$")

_NO_SHEET = "; a build sheet is a text file in TOML (evpack start writes one to fill in)"
_KINDS = {
    ".csv": "is a table, not a build sheet; a bench record is named in one, under [module.bench]: "
    'record = "{name}"',
    ".ipynb": "is a notebook" + _NO_SHEET,
    ".json": "is JSON" + _NO_SHEET,
    ".yaml": "is YAML" + _NO_SHEET,
    ".yml": "is YAML" + _NO_SHEET,
    ".xlsx": "is a spreadsheet" + _NO_SHEET,
    ".xls": "is a spreadsheet" + _NO_SHEET,
    ".ods": "is a spreadsheet" + _NO_SHEET,
    ".pdf": "is a PDF" + _NO_SHEET,
    ".py": "is a Python script" + _NO_SHEET,
}


_NOUNS: tuple[type, ...] = (
    *(Site, Load, Policy, Module, Pack, Monitoring, Inverter, Charger, Array),
    *(Cabling, Run, Busbar, FuseFamily, Safeguards, Disconnect, EmergencyOff, Precharge),
)


@functools.cache
def _keys() -> frozenset[str]:
    """Return every key of a sheet that a person might write with spaces."""
    return frozenset(field.name for noun in _NOUNS for field in attrs.fields(noun))


def kind_of_file(name: str) -> str:
    """Return what a file of that name is if it is certainly no build sheet, else nothing."""
    path = PurePath(name)
    return _KINDS.get(path.suffix.lower(), "").replace("{name}", path.name)


def guess(line: str) -> str:
    """Return how to put a line right that the TOML reader refused, or nothing.

    Parameters
    ----------
    line : str
        The line as it stands in the file.
    """
    line = _without_remark(line)
    for mistake in (_curly, _open_quote, _spaced_key, _colon, _unquoted, _word):
        found = mistake(line)
        if found:
            return found
    return ""


def _without_remark(line: str) -> str:
    """Return a line up to a # that stands in no quotes."""
    quote = ""
    for at, sign in enumerate(line):
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "\"'":
            quote = sign
        elif sign == "#":
            return line[:at].rstrip()
    return line.rstrip()


def _curly(line: str) -> str:
    match = _CURLY.search(line)
    return f'use straight quotes, " instead of {match[1]}' if match else ""


def _open_quote(line: str) -> str:
    if line.count('"') % 2:
        return 'a closing quote " is missing'
    if line.count("'") % 2 and '"' not in line:
        return 'a quote \' is one too many or too few; a text that holds one stands between " "'
    return ""


def _spaced_key(line: str) -> str:
    match = _SPACED_KEY.match(line)
    if match is None:
        return ""
    joined = re.sub(r"[ \-]+", "_", match["key"]).lower()
    near = nearest(joined, _keys())
    close = near if near.startswith(" (did you mean") else ""
    return f"a key holds no spaces, such as {joined}{close}"


def _colon(line: str) -> str:
    return "write = and no colon between a key and its value" if _COLON.match(line) else ""


def _unquoted(line: str) -> str:
    match = _UNQUOTED.search(line)
    if match is None:
        return 'a value is missing after "="' if _NO_VALUE.match(line) else ""
    number, unit = match["number"], match["unit"]
    if "," not in number:
        return f'put the value in quotes: "{number} {unit}"'
    if re.fullmatch(r"[+\-]?\d+,\d{1,2}", number):
        return f'put the value in quotes, with a decimal point: "{number.replace(",", ".")} {unit}"'
    # 1,500 may be meant in two ways.
    return "put the value in quotes, with a decimal point, and thousands without a comma"


def _word(line: str) -> str:
    match = _BARE_WORD.search(line)
    if match is None:
        return ""
    truth = _TRUTH.get(match["word"].lower())
    if truth is not None:
        return f"write true or false in lower case and without quotes: {truth}"
    return f'put a text in quotes: "{match["word"]}"'
