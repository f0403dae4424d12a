"""A job file that is wrong from the start: what is wrong with it, and how it is put right without losing what it was."""

from __future__ import annotations

from pathlib import Path

from backwave.atomic_write import aside, job_lock, write_whole
from backwave.errors import JobError, Problem
from backwave.job import FILE
from backwave.job.disk import write
from backwave.job.load import loads
from backwave.job.toml_spans import lines_of


class Repair:
    """The file while nobody can open it as a job."""

    def __init__(self, folder: Path, problems: tuple[Problem, ...]) -> None:
        self._path = folder / FILE
        self.problems = problems
        self.text = self._read()  # as it is on disk; letters that are none stand as a mark

    def _read(self) -> str:
        try:
            return self._path.read_bytes().decode(errors="replace")
        except FileNotFoundError:
            return ""

    def changed(self) -> bool:
        """Whether somebody has written the file since; takes in what it says."""
        text = self._read()
        if text == self.text:
            return False
        self.text = text
        self.problems = self.wrong(text)
        return True

    def wrong(self, text: str) -> tuple[Problem, ...]:
        """What is wrong with a text; empty: it is a job."""
        try:
            loads(text, self._path.parent)
        except JobError as error:
            return error.problems
        return ()

    def save(self, text: str) -> Path | None:
        """Write a text that is right, and keep the file as it was beside it. Returns where the file as it was is kept;
        None: the text is wrong too (`problems` says how), nothing is written."""
        self.problems = self.wrong(text)
        if self.problems:
            return None
        with job_lock(self._path.parent):
            was = self._path.read_bytes() if self._path.exists() else None
            kept = write_whole(aside(self._path, "broken"), was or b"")
            new = text.replace("\n", "\r\n") if was is not None and b"\r\n" in was else text
            if not write(self._path.parent, new, lines_of(text).data, was):
                self.changed()
                return None
        return kept
