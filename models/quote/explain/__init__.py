"""Why a forecast is what it is, and what to say beside it. START HERE: shapley.py."""
