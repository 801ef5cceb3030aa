"""The rooms whose nouns tell themselves: to import this is to know what every noun tells."""

from evpack.show import (  # noqa: F401  they register their nouns
    commissioning,
    decision,
    figures,
    findings,
    matching,
    operation,
    protection,
    runs,
    search,
    settings,
    trials,
    wall,
)
