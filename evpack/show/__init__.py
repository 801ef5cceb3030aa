"""Floor 6: nouns told as text, HTML and pictures."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach(
    __name__,
    submod_attrs={
        "draw.energy": ["energy_svg"],
        "draw.ladder": ["ladder_svg"],
        "html": ["as_html", "decision_html", "verdict_html"],
        "style": ["STYLE"],
        "text": ["as_text", "decision_text"],
    },
)
