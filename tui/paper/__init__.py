"""Labels and records for print."""
