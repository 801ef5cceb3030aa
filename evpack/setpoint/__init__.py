"""Floor 3: what to enter on each device, rounded to the safe side, and what it means."""
