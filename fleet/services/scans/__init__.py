"""What was read from scanned charts, until a person accepts it and it enters the record."""
