"""Honest benchmarks: each states a ratio against a named baseline measured in the same run."""
