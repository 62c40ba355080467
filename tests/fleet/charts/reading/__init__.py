"""Tests of the reader of filled charts."""
