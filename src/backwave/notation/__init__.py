"""How people write things: crossover parts, filters, ratings, wire colors, and what has to be confirmed before a wire pair is read.

Text in, small frozen values out; whoever holds such a value need not look at the text again.  Ground floor."""

__all__: list[str] = []
