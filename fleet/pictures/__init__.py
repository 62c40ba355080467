"""How does a visit plan look? A map, months, money and tables, on screens and on paper."""
