"""A house as built, its pipework, its years of fouling, and what a survey finds. START HERE: house.py."""
