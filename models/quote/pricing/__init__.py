"""From joint scenarios of a job to a price. START HERE: price.py."""
