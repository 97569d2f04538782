"""The book on disk: builds, journals, received files, exports. START HERE: book.py."""
