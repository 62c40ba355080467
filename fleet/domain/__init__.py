"""Sites, units, people and the record, as plain Python."""
