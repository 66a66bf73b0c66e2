"""Real roads: detours, riding times, where the nights end, fuel and water by road."""
