"""TELL: facts in, messages out. It knows no database and no clock; a digest is a pure function."""
