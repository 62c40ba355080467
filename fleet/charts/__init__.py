"""Charts on paper: one geometry for those who print and those who read, and what is drawn on it."""
