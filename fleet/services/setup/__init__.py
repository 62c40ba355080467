"""What is the fleet made of, what of it looks wrong, and what would a change of it bring?"""
