"""Will it stay cold, and how much ice must be bought where.

`weather` and `cooler` say what is known, `timeline` cuts the trip into steps, `balance` keeps
the heat account, `iceplan` chooses the ice, `document` writes it down.
"""
