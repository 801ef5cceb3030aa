"""Floor 5: many designs: which arrangement, which equipment, what change would make it work."""
