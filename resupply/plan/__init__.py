"""From settings to a plan."""
