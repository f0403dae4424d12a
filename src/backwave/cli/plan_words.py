"""What `backwave plan` was told, as words for the log; refused where what comes before is open."""

from __future__ import annotations

import datetime
import secrets
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from backwave.errors import InputError, MissingError

if TYPE_CHECKING:
    from collections.abc import Callable

    from backwave.assess.work.work_plan import Working
    from backwave.plan import Word

AT = "cli"


class Spokesperson:
    """Words spoken at the command line, each over all that is known by then.

    `work` gives the working that follows from words; `words` is what the log says so far.
    """

    def __init__(self, words: tuple[Word, ...], work: Callable[[tuple[Word, ...]], Working], by: str) -> None:
        self.words, self.work, self.by = words, work, by
        self.made = work(words)
        self.new: list[Word] = []

    def say(self, kind: str, id_: str, fields: Mapping[str, Any], part: str = "") -> None:
        """One more word; what follows from it is worked out, and refuses it where it cannot be."""
        from backwave.assess.work.log_codec import judged, rows_of, spoken

        now = datetime.datetime.now().astimezone().isoformat(timespec="milliseconds")
        key = f"{AT}-{secrets.token_hex(6)}"
        told = {name: value for name, value in fields.items() if value is not None}
        word = spoken(self.words, (kind, id_, part), told, key, now, self.by)
        self.made = self.work((*self.words, word))
        _, why = judged({"kind": kind, **rows_of(word)})
        if why:
            raise InputError(f"nothing was kept of {kind} {id_!r}: {why}")
        self.words = (*self.words, word)
        self.new.append(word)

    def task(self, name: str) -> str:
        """A task's id, if there is such a task."""
        return known(name, [row.task.id for row in self.made.rows], "task")

    def tick(self, name: str, minutes: float | None) -> None:
        """A task is done, if nothing before it is open."""
        self._free(self.task(name))
        self.say("tick", name, {"done": True, "minutes": minutes})

    def confirm(self, name: str) -> None:
        """All that has to be true before a task begins is so."""
        row = next(row for row in self.made.rows if row.task.id == self.task(name))
        for gate in row.unconfirmed:
            self.say("gate", name, {"done": True}, gate)

    def start(self, name: str) -> None:
        """Work on a task begins."""
        self._free(self.task(name))
        self.say("time", name, {"go": True}, f"{AT}-{secrets.token_hex(4)}")

    def stop(self, name: str) -> None:
        """Work on a task ends, whoever began it."""
        row = next(row for row in self.made.rows if row.task.id == self.task(name))
        running = [run for run in row.runs if not run.until]
        if not running:
            raise InputError("nobody works on this task", name, "one that was started")
        for run in running:
            self.say("time", name, {"go": False}, run.key)

    def _free(self, name: str) -> None:
        """Refuse what has to wait."""
        row = next(row for row in self.made.rows if row.task.id == name)
        if row.waits:
            raise InputError(f"{name} waits for others", ", ".join(row.waits), "these ticked first")
        if row.consent:
            raise InputError(
                f"{name} drills, and nobody has consented yet", "", "--consent WHO --text 'what may be drilled'"
            )
        if row.unconfirmed:
            raise InputError(
                f"before {name} this has to be so", "; ".join(row.unconfirmed), f"--confirm {name}, when it is"
            )

    def note(self, text: str, about: str, place: str, counts: tuple[int | None, int | None], photos: Iterable[Path],
             folder: Path) -> None:  # fmt: skip
        """How something came apart, or how it was before."""
        for n in counts:
            if n is not None and not 0 <= n < 1000:
                raise InputError("a count", n, "0 to 999")
        name = f"{AT}-{secrets.token_hex(4)}"
        kept = _photos(photos, name, folder)
        count, clips = counts
        fields = {"text": text, "about": about or None, "place": place or None, "count": count, "clips": clips,
                  "photos": kept or None}  # fmt: skip
        self.say("note", name, fields)

    def refit(self, name: str, count: int | None, clips: int | None) -> None:
        """A step of the teardown is together again."""
        known(name, [step.id for step in self.made.teardown], "step of the teardown")
        self.say("refit", name, {"done": True, "count": count, "clips": clips})

    def consent(self, who: str, text: str) -> None:
        """Somebody consents to something that is drilled or cut; what others consented to stays."""
        self.say("consent", f"{AT}-{secrets.token_hex(4)}", {"given": True, "who": who, "text": text})

    def item(self, name: str, fields: Mapping[str, Any]) -> None:
        """Something about a row of the shopping list."""
        known(name, [item.id for item in self.made.items], "row of the shopping list")
        self.say("item", name, fields)

    def back(self, redo: bool) -> None:
        """Take back the last word spoken here, or say again what was taken back."""
        from backwave.assess.work.log_codec import again, undone

        word = again(self.words, AT) if redo else undone(self.words, AT)
        if word is None:
            raise InputError(f"nothing to {'say again' if redo else 'take back'}", "", "something said here before")
        self.say("back", word.key, {"done": not redo})


def _photos(paths: Iterable[Path], name: str, folder: Path) -> tuple[str, ...]:
    """The pictures, cleaned and kept; all of them are looked at before the first is written."""
    from backwave.files.photos import MAX_BYTES, clean_picture, keep_picture

    read = []
    for path in paths:
        if not path.is_file():
            raise MissingError(f"There is no picture {path}", "Give the path of a JPEG, PNG or WebP file")
        if path.stat().st_size > MAX_BYTES:
            raise InputError(
                "a picture that is too large",
                f"{path.name}, {path.stat().st_size / 1e6:.0f} MB",
                f"at most {MAX_BYTES // 1_000_000} MB",
            )
        try:
            read.append(clean_picture(path.read_bytes()))
        except InputError as error:
            raise InputError(f"{path.name}: {error.what}", error.found, error.accepted) from None
    return tuple(keep_picture(folder, f"photos/{name}-{n}.jpg", data) for n, data in enumerate(read, 1))


def known(name: str, names: list[str], what: str) -> str:
    """A name that is among others; the nearest ones are told where it is not."""
    if name not in names:
        near = get_close_matches(name, names, 3, 0.5)
        raise InputError(
            f"no such {what}", name, ", ".join(near) or f"an id that `backwave plan` shows ({len(names)} of them)"
        )
    return name
