"""The ridden line."""
