"""Ten trips planned by version 0.1.0 and by this tree, and which figures differ."""
