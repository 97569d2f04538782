"""What gets written down, with the gaps and slips of crews; and the hidden truth. START HERE: logbook.py."""
