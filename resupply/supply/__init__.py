"""Which shops to stop at, the gaps between them, and what to do if one is shut."""
