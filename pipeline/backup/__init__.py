"""A book as one ZIP file, and back. START HERE: back_up.py."""
