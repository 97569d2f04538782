"""Which jobs are compared, by what, and what was known before. START HERE: audited_jobs.py."""
