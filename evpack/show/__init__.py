"""Floor 6: nouns told as text, HTML and pictures."""
