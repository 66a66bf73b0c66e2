"""Every pass of every place."""
