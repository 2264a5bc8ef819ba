"""Read-only questions, frozen rows out."""
