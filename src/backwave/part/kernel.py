"""The border to the solid kernel: what it raises is translated here, once."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from backwave.errors import BuildError


@contextmanager
def kernel(feature: str) -> Iterator[None]:
    """Whatever the kernel raises inside becomes a `BuildError` that names the feature.

    It raises kinds of its own and, through its Python layer, any built-in one; a person can do nothing with either.

    BuildError: the kernel could not.
    """
    try:
        yield
    except (BuildError, MemoryError):
        raise
    except OSError as fault:  # a full disk is no fault of the part, and no verdict
        if fault.errno is not None:
            raise
        raise BuildError(feature, str(fault)) from fault
    except Exception as fault:
        raise BuildError(feature, str(fault).strip() or type(fault).__name__) from fault
