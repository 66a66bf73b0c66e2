"""Menu, shopping, load, packing and care. Takes plain values: no map, route or cooler code."""
