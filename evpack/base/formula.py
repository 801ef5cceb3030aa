"""The little language in which a formula stands once: told in symbols, and computed from.

``{n} · {V_max}``: symbols in braces, ``·``, ``−``, ``+``, ``/``, ``^2``, ``√(…)``, ``min``,
``max``, ``down(x, from, step)`` and ``up(x, from, step)`` for rounding to a device's steps, plain
numbers, and ``1 h`` where ampere-hours become amperes.
"""

from __future__ import annotations

import ast
import functools
import math
import re
from collections.abc import Callable

from evpack.base.rounding import down_to_step, up_to_step

SYMBOL = re.compile(r"\{([^{}]+)\}")
_WRITTEN = (("·", "*"), ("−", "-"), ("^", "**"), ("√(", "sqrt("), (" 1 h", " 1.0"))
_FUNCTIONS = {
    "min": min,
    "max": max,
    "sqrt": math.sqrt,
    "down": down_to_step,
    "up": up_to_step,
}
_MAY_STAND = (
    *(ast.Expression, ast.BinOp, ast.UnaryOp, ast.USub, ast.Call, ast.Name, ast.Load),
    *(ast.Constant, ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Pow),
)


def in_words(formula: str) -> bool:
    """Return whether a text tells of a computation that no one line can hold."""
    return formula.startswith(("solve", "read", "integral"))


@functools.cache
def compiled(formula: str, symbols: tuple[str, ...]) -> Callable[..., float]:
    """Return a formula as a function of the values of its symbols, in the order given.

    Raises
    ------
    ValueError
        It is not in the little language, or a symbol of it is not given.
    """
    for symbol in SYMBOL.findall(formula):
        if symbol not in symbols:
            raise ValueError(f"'{formula}' asks for {symbol}; given are {', '.join(symbols)}")
    text = SYMBOL.sub(lambda m: f" x{symbols.index(m[1])} ", formula)
    for written, python in _WRITTEN:
        text = text.replace(written, python)
    try:
        tree = ast.parse(text.strip(), mode="eval")
    except SyntaxError:
        raise ValueError(f"'{formula}' is not in the little language") from None
    names = {f"x{place}" for place in range(len(symbols))} | _FUNCTIONS.keys()
    for node in ast.walk(tree):
        known = not isinstance(node, ast.Name) or node.id in names
        plain = not isinstance(node, ast.Constant) or isinstance(node.value, int | float)
        if not (isinstance(node, _MAY_STAND) and known and plain):
            raise ValueError(f"'{formula}' is not in the little language")
    given = ", ".join(f"x{place}" for place in range(len(symbols)))
    made = eval(f"lambda {given}: {text.strip()}", {"__builtins__": {}, **_FUNCTIONS})  # noqa: S307  looked at above
    found: Callable[..., float] = made
    return found
