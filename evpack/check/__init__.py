"""Floor 3: does this arrangement fit this equipment, and what stays reachable."""
