"""Parts of "Job book". START HERE: book_parts.py."""
