"""Food and its cold."""
