"""What do commands and pages do alike, with the whole program in hand?"""
