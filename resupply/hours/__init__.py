"""When places are open."""
