"""What every part of the quote shares: past jobs, targets, distributions, results. START HERE: targets.py."""
