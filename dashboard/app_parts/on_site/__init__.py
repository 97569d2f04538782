"""Parts of a job in progress on the phone. START HERE: today.py."""
