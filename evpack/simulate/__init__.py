"""Floor 3: how strings share, and what days, winters and faults look like."""
