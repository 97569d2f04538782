"""Quote requests, and the quotes that were kept. START HERE: requests.py."""
