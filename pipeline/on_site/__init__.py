"""A job in progress: entries as they are made, and its way into the book. START HERE: open_job.py."""
