"""The `sludgebook` command. START HERE: main.py."""
