"""Elementary physics: pure functions with units, ranges and sources."""
