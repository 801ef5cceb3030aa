"""Floor 7: notebook display, panels, the shared file."""
