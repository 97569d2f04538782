"""Levelling off: the catch while flushing."""
