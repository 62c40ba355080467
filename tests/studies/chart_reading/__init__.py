"""How well are filled charts read back? Generators of filled pages, training, measuring."""
