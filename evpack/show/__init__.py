"""Floor 6: nouns told as text, HTML and pictures."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach(
    __name__,
    submod_attrs={
        "energy": ["energy_svg"],
        "html": ["as_html", "decision_html", "figure_html", "verdict_html"],
        "ladder": ["ladder_svg"],
        "style": ["STYLE"],
        "text": ["as_text", "decision_text"],
    },
)
