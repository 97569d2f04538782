"""Practices against callbacks: survival, adjusted effects, engineers compared fairly, how many jobs would be needed."""
