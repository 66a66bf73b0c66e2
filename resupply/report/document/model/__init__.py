"""The plan document, typed: its classes, how they are written and read, and their schema."""
