"""Warnings while flushing, one rule a module: a statistic, a threshold, what it means, what to check first.

Each takes a job as known at one moment (`models.catch.records.job.JobCatch`) and gives a finding or None. Thresholds
are set on simulated normal jobs so that at most 2 in 100 are warned of without cause, and measured on others
(`python -m tests.benchmarks.bench_warnings`).
"""
