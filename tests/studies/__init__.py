"""Slow studies, run by hand: `python -m tests.studies.NAME`; results stand in README.md."""
