"""Engines that run the list of SQL files."""
