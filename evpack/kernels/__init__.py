"""Floor 1: formulas and algorithms; floats and arrays in, floats and arrays out."""
