"""Received rows → accepted or rejected, each fault with its reason. START HERE: check_batch.py."""
