"""Reports of a plan: document, map and page, terminal, GPX. No planning happens here."""
