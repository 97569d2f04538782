"""Results in words and rows, the same on a page, on paper and in a command. START HERE: wording.py."""
