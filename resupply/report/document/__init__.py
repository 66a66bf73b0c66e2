"""The plan document."""
