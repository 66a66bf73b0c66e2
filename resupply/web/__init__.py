"""The live page: a local server that plans while the rider drags."""
