"""The fitted quote: its parts, its storage, and what it predicts. START HERE: quote_model.py."""
