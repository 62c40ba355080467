"""What stands on charts: the days, the cells, a unit's whole year, what was printed of it."""
