"""Air, filters as transfer functions, and the bands people listen in.  SI units.  Ground floor."""

__all__: list[str] = []
