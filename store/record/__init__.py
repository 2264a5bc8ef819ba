"""The SQLite file; the only folder that writes it."""
