"""One job as a watch knows it, and what a watch answers. START HERE: job.py."""
