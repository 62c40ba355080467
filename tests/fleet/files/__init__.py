"""Tests of what reads files and looks up public holidays."""
