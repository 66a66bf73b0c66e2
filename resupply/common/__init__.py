"""What every package may use."""
