"""The dossier: what was fitted and why, on paper that a stranger could service the vehicle from.

    pack         the folder that is handed over, with one PDF, the customer's page and a page to show others
    dossier_pdf  the PDF by itself
    public_pdf   a page with nothing private on it

From: a job, its assessment, its working (`backwave.assess.work.work_plan`).  Shows and lays out, computes nothing; numbers in
the units that the job shows.  A face.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backwave.dossier.pack import Packed, dossier_pdf, pack
    from backwave.dossier.pages import public_pdf

__all__ = ["Packed", "dossier_pdf", "pack", "public_pdf"]


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name in __all__:
        return getattr(import_module("backwave.dossier." + ("pages" if name == "public_pdf" else "pack")), name)
    raise AttributeError(f"backwave.dossier has no {name!r}")
