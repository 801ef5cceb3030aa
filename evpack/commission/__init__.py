"""How is it proven before it is used? The plan of commissioning, and the record against it."""
