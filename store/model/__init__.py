"""The nouns, frozen."""
