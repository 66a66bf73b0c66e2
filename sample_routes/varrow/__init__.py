"""The invented island of Varrow, worked out from a seed."""
