"""What the kernel raises becomes an error that names the feature; ours goes through as it is."""

from __future__ import annotations

import pytest

from backwave.errors import BuildError
from backwave.part.solid import kernel


def test_any_failure_names_the_feature() -> None:
    with (
        pytest.raises(BuildError, match="relief chamfer could not be built: edge too short") as caught,
        kernel("relief chamfer"),
    ):
        raise RuntimeError("edge too short")
    assert isinstance(caught.value.__cause__, RuntimeError)
    with pytest.raises(BuildError, match="mesh could not be built: ZeroDivisionError"), kernel("mesh"):
        raise ZeroDivisionError


def test_our_own_goes_through() -> None:
    own = BuildError("insert boss 2", "no room")
    with pytest.raises(BuildError) as caught, kernel("mesh"):
        raise own
    assert caught.value is own
