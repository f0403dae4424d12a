"""What holds for every test: a property has no time limit of its own, because a busy machine is no counterexample."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("suite", deadline=None)
settings.load_profile("suite")
