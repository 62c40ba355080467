"""WHAT and WHO: the fleet, its record, and the program that people use."""
