"""Engineers compared fairly, by the jobs each was given. START HERE: funnel.py."""
