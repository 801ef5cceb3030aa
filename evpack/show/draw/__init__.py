"""Pictures as SVG: what each noun draws, and the few shapes that all are made of."""
