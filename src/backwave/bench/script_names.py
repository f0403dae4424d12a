"""The framework's own scripts named as ours in each page, so that a browser runs no other (CSP nonces).

The name goes into the framework's template, not into finished pages: what a job says is put in afterwards, and a script
that got in there has no name.
"""

from __future__ import annotations

from typing import Any

from jinja2 import FunctionLoader
from nicegui.client import templates

_NAME = ' nonce="{{ request.state.nonce }}"'


def name_scripts() -> None:
    """Have the scripts of every page of the framework named."""
    loader, environment = templates.env.loader, templates.env
    assert loader is not None

    def load(name: str) -> tuple[str, str | None, Any]:
        source, file, fresh = loader.get_source(environment, name)
        return named(source), file, fresh

    environment.loader = FunctionLoader(load)
    if environment.cache is not None:
        environment.cache.clear()


def named(template: str) -> str:
    """A template whose scripts have the name of the answer."""
    return template.replace("<script", f"<script{_NAME}")
