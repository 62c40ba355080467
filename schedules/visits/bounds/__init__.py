"""How cheap could a plan be at best? The parts of the lower bound: column generation over trips."""
