"""From past jobs to the forecast of one target. START HERE: fit_target.py."""
