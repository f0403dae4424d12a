"""The work on a job: what has to be done and bought, what is done, and what was written down on the way."""

__all__: list[str] = []
