"""Pictures of the simulated world. START HERE: simulated_world.py."""
