"""Engineers with habits, their diary, and the plan each makes. START HERE: crew.py."""
