"""WHEN: which duty of which unit falls due when, as arithmetic on civil dates.

Pure: values and arrays in, values and arrays out. No database, no clock, no file but the rule
book.
"""
