"""Floor 3: what to enter on each device."""
