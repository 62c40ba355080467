"""How is a cheap plan found? Ruin and recreate with annealing, on the exact rules of a trip."""
