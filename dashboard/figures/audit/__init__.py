"""Figures of "Practice audit". START HERE: practice_audit.py."""
