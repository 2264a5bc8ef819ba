"""What goes out and comes in as files."""
