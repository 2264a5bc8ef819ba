"""Pure sums in plain floats, units in the names."""
