"""Files handed in → received, checked, built, with an account of every row. START HERE: load.py."""
