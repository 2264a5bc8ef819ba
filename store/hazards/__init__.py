"""Reference on hazards: statements, families, cautions, mixing, labels."""
