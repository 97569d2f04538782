"""The chance of a practice and of a callback, fitted on other jobs. START HERE: nuisance_fits.py."""
