"""Parts of "About the data". START HERE: about_parts.py."""
