"""What weighings say about the debris left, beside what past jobs say. START HERE: posterior.py."""
