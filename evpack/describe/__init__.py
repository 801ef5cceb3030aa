"""Floor 1: the nouns that a user states. They refuse the impossible and judge nothing."""
