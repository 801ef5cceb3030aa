"""Floor 0: units, errors, rules and findings, explained numbers. Knows nothing of batteries."""
