"""The look of answers worked out beforehand, and the rules that show the one that was picked."""

from __future__ import annotations

from collections.abc import Sequence
from string import ascii_lowercase

LOOK = """
body .evp.evp.evp-if { border: 1px solid var(--evp-line); padding: .6em .8em; }
.evp.evp-if .evp-if-lead { color: var(--evp-soft); font-size: .9em; margin: 0 0 .6rem;
  max-width: none; }
.evp.evp-if fieldset { border: 0; margin: 0 0 .7rem; padding: 0; min-width: 0; }
.evp.evp-if legend { font-size: .88em; font-weight: 700; padding: 0 0 .15rem; }
.evp.evp-if label { display: inline-flex; align-items: center; gap: .35em; cursor: pointer;
  min-height: 2.1em; padding: 0 .55em; margin: 0 .25rem .25rem 0;
  border: 1px solid var(--evp-line); }
.evp.evp-if label:hover { background: var(--evp-wash); }
.evp.evp-if label:focus-within { outline: 2.5px solid var(--evp-ink); outline-offset: 1px; }
.evp.evp-if input { margin: 0; accent-color: var(--evp-ink); }
.evp.evp-if label small { color: var(--evp-soft); font-size: .8em; font-weight: 400; }
.evp.evp-if .evp-if-at { margin: 0 0 .4rem; }
.evp.evp-if .evp-if-v { border: 2px solid var(--tone); background: var(--tone-wash);
  color: var(--tone); padding: .3em .6em; margin: .3rem 0; font-size: 1.3em; line-height: 1.2; }
.evp.evp-if svg { display: block; width: 100%; max-width: 32rem; height: auto;
  margin: .6rem 0 .2rem; }
.evp.evp-if .evp-if-s ul { list-style: none; padding: 0; font-size: .92em; }
.evp.evp-if .evp-if-s li { margin: .35em 0; }
.evp.evp-if .evp-if-s li > b { color: var(--tone); }
.evp.evp-if .evp-if-legend { color: var(--evp-soft); font-size: .82em; margin: .6rem 0 0; }
.evp.evp-if i { display: inline-block; width: .8em; height: .8em;
  border: 1px solid var(--evp-soft); }
.evp.evp-if .evp-if-work { background: var(--evp-work); }
.evp.evp-if .evp-if-guard { background: var(--evp-guard); }
.evp.evp-if .evp-if-bar { background: var(--evp-bar); }
@media print { .evp.evp-if .evp-if-s { break-inside: avoid; } }
"""
_BESIDE = "{ display: grid; grid-template-columns: 15rem minmax(0, 1fr); column-gap: 1.4rem; }"
_PICKED = "{ background: var(--evp-wash); border-color: var(--evp-ink); font-weight: 700; }"


def shown_by(mark: str, counts: Sequence[int]) -> str:
    """Return the rules that show the choices, and of all answers the one that they pick.

    An answer is shown once every choice is made, and hidden again by each choice that is not its
    own. A browser that cannot ask what an element holds shows neither choices nor other answers:
    the rules leave the attribute ``hidden`` as it is. On paper the choices are left out.

    Parameters
    ----------
    mark : str
        The class of the whole, of this panel alone.
    counts : sequence of int
        How many values each choice has.
    """
    rows = list(zip(ascii_lowercase, counts, strict=False))
    whole = f".{mark}" + "".join(f":has(.{letter}:checked)" for letter, _ in rows)
    rules = [
        f".evp.{mark} .evp-if-pick {{ display: block; }}",
        f".{mark} .evp-if-both {_BESIDE}",
        f".evp.{mark} label:has(:checked) {_PICKED}",
        f"{whole} .evp-if-s {{ display: block; }}",
    ]
    rules += [
        f".{mark}:has(.{letter}{k}:checked) .evp-if-s:not(.{letter}{k}) "
        "{ display: none !important; }"
        for letter, count in rows
        for k in range(count)
    ]
    narrow = f".{mark} .evp-if-both {{ display: block; }}"
    paper = f"{narrow} .evp.{mark} .evp-if-pick {{ display: none; }}"
    return (
        f"@supports selector(:has(a)) {{\n{chr(10).join(rules)}\n"
        f"@media (max-width: 640px) {{ {narrow} }}\n@media print {{ {paper} }}\n}}\n"
    )
