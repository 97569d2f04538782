"""How a catch levels off: saturating curves by least squares, one or many. START HERE: curve.py."""
