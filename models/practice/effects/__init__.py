"""The adjusted effect of a practice, in figures and in a verdict. START HERE: doubly_robust.py."""
