"""Settings of a trip."""
