"""The months after the visit, and the return visits. START HERE: aftercare.py."""
