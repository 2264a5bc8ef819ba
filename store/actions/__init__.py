"""The verbs: check, then append; the only way a fact gets in."""
