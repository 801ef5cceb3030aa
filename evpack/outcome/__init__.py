"""Floor 2: the nouns that one step hands on to the next."""
