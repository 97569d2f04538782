"""What a quote can tell beyond its answer: offers, other plans, a water sample. START HERE: further.py."""
