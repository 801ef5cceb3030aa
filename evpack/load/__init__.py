"""Floor 3: files in. The only reader of files."""
