"""Everything a book holds, derived again and compared. START HERE: verify_book.py."""
