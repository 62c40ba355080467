"""How do vendor visits come from the record, and what is said of a plan?"""
