"""A flush minute by minute: flows, release, traps, moves, faults. START HERE: flush.py."""
