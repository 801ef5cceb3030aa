"""Floor 3: which modules are fit, which belong together, and how they come onto one bus."""
