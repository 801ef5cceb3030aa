"""One page that stands alone: it loads nothing and runs nothing."""

from __future__ import annotations

from evpack.base.version import VERSION
from evpack.show.clean import escaped
from evpack.show.style import STYLE

_BODY = (
    "body { margin: 1.5rem auto; max-width: 62em; padding: 0 1rem; }"
    ".evp .evp-page { font-size: 1.7em; line-height: 1.2; margin: 0 0 .5em; }"
)

# Read by a rule of the style: a page runs nothing.
_IN_FULL = (
    '<p class="evp-soft evp-screen"><label><input type="checkbox" class="evp-in-full"> '
    "Print formulas and rules as well</label></p>"
)


def one_page(title: str, body: str, style: str = "") -> str:
    """Return an HTML document around a fragment.

    Parameters
    ----------
    title : str
        Escaped here; the page's heading as well.
    body : str
        Markup, in which whatever a user typed is escaped already.
    style : str
        Rules besides those that every fragment has.
    """
    asked = _IN_FULL if "<details" in body else ""
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta name="generator" content="evpack {escaped(VERSION)}">'
        f"<title>{escaped(title)}</title><style>{_BODY}{STYLE}{style}</style></head>"
        f'<body><main class="evp"><h1 class="evp-page">{escaped(title)}</h1>{asked}{body}</main>'
        "</body></html>"
    )
