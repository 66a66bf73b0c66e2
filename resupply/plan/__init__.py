"""From settings to a plan. As `resupply.plan(...)` also the call that makes one: `resupply.api`."""
