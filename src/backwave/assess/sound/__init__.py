"""What the stages of a job bring: the prediction, its bands, what-ifs and comparisons, its findings and charts."""

__all__: list[str] = []
