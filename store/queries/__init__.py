"""Read-only questions, SQL in plain sight, frozen rows out."""
