"""The adapter as a part."""

__all__: list[str] = []
