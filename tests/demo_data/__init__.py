"""Tests of the demo: its files, and the flaws planted in them."""
