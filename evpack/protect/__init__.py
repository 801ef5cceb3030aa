"""Floor 3: fuses, main protection, fault levels."""
