"""Files of every kind → text tables, every record with its line. START HERE: files.py."""
