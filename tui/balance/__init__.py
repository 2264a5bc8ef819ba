"""Balances: typed, simulated, on a wire; one small protocol."""
