"""Pictures of the simulator's document. START HERE: draw_pictures.py."""
