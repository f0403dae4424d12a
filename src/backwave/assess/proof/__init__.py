"""Recordings of a job: read, set before and after and against the prediction, learned from, and turned into settings."""

__all__: list[str] = []
