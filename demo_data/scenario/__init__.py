"""What happens in the invented fleet? The story behind the demo's files, told from a seed.

chance, names → places → opening, staff, instruments → presence, habits → charts, services → flaws,
corrections → story → rows
"""
