"""Supply and harness of a job: cables, fuses, gains, speaker runs, and the wiring as it will be built."""

__all__: list[str] = []
