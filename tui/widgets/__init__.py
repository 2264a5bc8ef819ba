"""The parts of screens."""
