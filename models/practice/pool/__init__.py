"""Several firms together, none of them told apart. START HERE: pooled_effects.py."""
