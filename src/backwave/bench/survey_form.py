"""The fields, tables and pictures of the survey, each bound to a key: what is typed goes into the job as soon as it can stand there.

A row or a table that is not whole yet is kept here, and with it what it would be: the verdict of what is typed is worked
out from the same changes that entering it makes."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

from nicegui import context, ui

from backwave.assess import Assessment
from backwave.assess.inputs.opening import SeenOpening, seen_at
from backwave.bench import schema_form
from backwave.bench.board import Problems, Trial
from backwave.bench.findings import moved, of_key
from backwave.bench.page_frame import Tab
from backwave.bench.schema_form import Field, FormTable, field_id, find, meant, ordered, path_words, spoken, understood
from backwave.bench.widgets import InputField, RowsTable, SpotPicture, button, problem_words, sketch, status, text
from backwave.finding import sentences
from backwave.job.model import TABLES
from backwave.job.toml_spans import KeyPath, at, typed
from backwave.job.undo import Append, Change, Put
from backwave.notation.measures import in_words
from backwave.stock import shipped
from backwave.units import show

Key = str | int
INSTRUMENTS = ("caliper", "gauge", "tape", "default")
PARTS = ("distances", "from"), ("distances", "to")
LISTS = ("behind", "fixings")
NUMBER = {"behind": "clear", "fixings": "hole", "flange": "diameter", "hole": "diameter", "lip": "height"}  # on a spot
RARE = [("behind", "by"), *(("fixings", key) for key in ("angle", "height", "stands", "metal"))]  # folded while empty
WIDE: dict[Key, int] = {"clear": 13, "x": 9, "y": 9, "angle": 9, "toward": 9}  # letters of a cell
MOST = 6  # fields of one spot; all of them stand in the table


class Form:
    """What is filled in on one page."""

    def __init__(self, here: Tab) -> None:
        self.here, self.client = here, context.client
        self.entries: list[tuple[InputField, Field, KeyPath]] = []
        self.tables: list[Rows] = []
        self.drafts: dict[KeyPath, dict[Any, Any]] = {}  # tables, rows and pairs that are not in the job yet
        self.widths: dict[KeyPath, int] = {}  # of those that are pairs or cells: how many values they take
        self.opened: set[KeyPath] = set()
        self.troubled: set[KeyPath | None] = set()  # what the job takes and the computation does not
        self.rebuild: Callable[[], Any] = lambda: None
        self.lit: Callable[[KeyPath, Field], None] = lambda path, field: None
        self.weighed: Trial = lambda was, now: None

    @property
    def data(self) -> Any:
        return self.here.board.data

    def value(self, path: KeyPath) -> Any:
        draft = self.drafts.get(path[:-1])
        return at(self.data, path) if draft is None else draft.get(path[-1])

    def fill(self) -> None:
        """Show what the job says now."""
        wrong = {of_key(self.data, p.key): problem_words((p,)) for p in self.here.board.trouble}
        for entry, field, path in self.entries:
            value = self.value(path)
            now = spoken(value)
            told: dict[str, Any] = {"value": now, "understood": understood(field, value, self.here.system)}
            told["options"] = list(self.chosen_from(field, path)[1])
            if path in wrong:
                told["error"] = wrong[path]
            elif now != entry._props["value"] or path in self.troubled:
                told["error"] = ""
            entry.say(**told)
        for table in self.tables:
            table.fill(wrong)
        self.troubled = set(wrong)

    def chosen_from(self, field: Field, path: KeyPath) -> tuple[str, tuple[str, ...]]:
        """How a field is filled in, and from what: what stands elsewhere in the job is chosen, not typed."""
        data, kind, options = self.data, field.kind, field.options
        keys = tuple(k for k in path if isinstance(k, str))
        if field.key == "by":
            kind, options = "choice", tuple(data.get("instruments", {})) or INSTRUMENTS[:3]
        elif field.key in TABLES and TABLES[field.key].named and path[0] != field.key and kind == "text":
            kind, options = "choice", tuple(r["id"] for r in data.get(field.key, []) if "id" in r)
        elif field.key == "material" and path[0] == "adapter":
            own = data.get("stock", {}).get("material", [])
            options = tuple(sorted({r.name for r in shipped().rows("material")} | {r.get("name", "") for r in own}))
        elif keys[-2:] in PARTS:
            fixings = at(data, (*path[: path.index("distances")], "fixings")) or at(data, (*path[:2], "fixings")) or ()
            kind, options = "choice", (*(f"fixing {n}" for n, _ in enumerate(fixings, 1)), "hole edge", "axis")
        return kind if kind in ("choice", "flag") else "text", options

    def entry(self, field: Field, path: KeyPath, before: str = "", **props: Any) -> InputField:
        """A field of its own. `before`: what its id on the page begins with, where the key has another field too."""
        kind, options = self.chosen_from(field, path)
        system = self.here.system

        async def commit(value: str, seen: str) -> None:
            error = await self.take(field, path, value, seen)
            taken = not error or path[-1] in self.drafts.get(path[:-1], {})
            entry.say(error=error, **({"value": spoken(self.value(path))} if taken else {}))
            self.fill()

        entry = InputField(
            before + field_id(path), field.label, in_words(field.hint, system) + ("" if field.used else " (not used yet)"),
            kind, options, on_commit=commit, on_lit=lambda: self.lit(path, field),
            on_try=lambda value: self.weigh(field, path, value), assumed=in_words(field.assumed, system),
            why=in_words(field.why, system), required=field.required, removable=not field.required,
            unused=not field.used, **props,
        )  # fmt: skip
        self.entries.append((entry, field, path))
        return entry

    def rows(self, path: KeyPath, label: str, fields: Sequence[Field], row: str) -> None:
        """A table with a row for each table of a list."""
        self.tables.append(Rows(self, path, label, row, [(f.key, f) for f in fields], "rows"))

    def cells(self, field: Field, path: KeyPath) -> None:
        """Pairs of values, or a few that belong together, side by side."""
        inner = replace(field, kind="text", required=True, options=())
        columns: list[tuple[Key, Field]] = [(n, replace(inner, label=name)) for n, name in enumerate(field.columns)]
        row = "point" if field.unit else "row"
        self.tables.append(Rows(self, path, field.label, row, columns, field.kind, not field.required))

    # -- what is typed ------------------------------------------------------------------------------------------

    async def take(self, field: Field, path: KeyPath, value: str, seen: str) -> str:
        """Enter what was typed; what is wrong with it, in words."""
        text, parent, board = meant(field, value, self.here.system), path[:-1], self.here.board
        if not parent or at(self.data, parent) is not None:
            return problem_words(await board.put(path, text or None, seen=meant(field, seen)))
        if field.columns:
            self.widths[parent] = len(field.columns)
        draft = self._with(parent, path[-1], text)
        self.drafts[parent] = draft
        changes = self._whole(parent, draft)
        problems = await board.change(changes) if changes else ()
        if changes and not problems:
            self._entered(parent, changes)
            return ""
        if not draft:
            del self.drafts[parent]
        own = [p for p in problems if p.found != "nothing" or p.key.endswith((f".{path[-1]}", f"]{path[-1]}"))]
        missing = sorted({p.key.rpartition(".")[2] for p in problems if p not in own})
        listed = isinstance(parent[-1], int)  # its table shows what is still needed
        return problem_words(own) or ("" if listed or not missing else f"Still needed: {', '.join(missing)}")

    def weigh(self, field: Field, path: KeyPath, value: str) -> None:
        """Work out what it would bring if it were entered."""
        text, parent = meant(field, value, self.here.system), path[:-1]
        changes: list[Change] = [Put(path, text or None)]
        if parent and at(self.data, parent) is None:
            if field.columns:
                self.widths[parent] = len(field.columns)
            changes = self._whole(parent, self._with(parent, path[-1], text))
        if changes and self.here.board.session is not None:
            self.here.board.weigh(changes, self._weighed)

    def _weighed(self, was: Assessment | None, now: Assessment | Problems) -> None:
        with self.client:
            self.weighed(was, now)

    def _with(self, parent: KeyPath, key: Key, text: str) -> dict[Any, Any]:
        draft = {k: v for k, v in self.drafts.get(parent, {}).items() if k != key}
        if text:
            held = typed(text)[0]
            bare = text[:1] in "[{" or isinstance(held, (int, float, bool))
            draft[key] = held if bare else text
        return draft

    def _whole(self, parent: KeyPath, draft: dict[Any, Any]) -> list[Change]:
        """What enters a table, a row or a pair that is not in the job yet; nothing where values are still missing."""
        wide = self.widths.get(parent)
        if not draft or (wide is not None and len(draft) < wide):
            return []
        value: Any = dict(draft) if wide is None else [draft[n] for n in range(wide)]
        if len(parent) == 2 and isinstance(parent[1], int):
            return [Append(str(parent[0]), dict(draft))]
        if not isinstance(parent[-1], int):
            return [Put(parent, value)]
        held = at(self.data, parent[:-1])
        if held is None and wide is not None:  # an outline begins with three points at once
            others = {**self.drafts, parent: draft}
            begun = sorted(p for p, d in others.items() if p[:-1] == parent[:-1] and len(d) == wide)
            return [Put(parent[:-1], [[others[p][n] for n in range(wide)] for p in begun])]
        return [Put((*parent[:-1], len(held or ())), value)]

    def _entered(self, parent: KeyPath, changes: Sequence[Change]) -> None:
        """What was a draft is in the job; what else was begun in its list stands after it now."""
        listed, began = parent[:-1], isinstance(changes[0], Put) and changes[0].path == parent[:-1]
        drafts = [(p, self.drafts.pop(p)) for p in sorted(p for p in self.drafts if p[:-1] == listed)]
        held = len(at(self.data, listed) or ()) if isinstance(parent[-1], int) else 0
        left = [(p, d) for p, d in drafts if p != parent and not (began and len(d) == self.widths.get(p))]
        for n, (p, draft) in enumerate(left):
            self.drafts[(*listed, held + n) if isinstance(parent[-1], int) else p] = draft

    def forget(self, path: KeyPath) -> None:
        """A draft that is not wanted any more."""
        self.drafts.pop(path, None)
        for n, later in enumerate(sorted(p for p in self.drafts if p[:-1] == path[:-1] and p > path)):
            self.drafts[(*path[:-1], int(path[-1]) + n)] = self.drafts.pop(later)


class Rows:
    """A table to type in, bound to a list of tables ("rows"), of pairs ("pairs"), or to one value of several ("cells")."""

    def __init__(
        self, form: Form, path: KeyPath, label: str, row: str, columns: Sequence[tuple[Key, Field]], kind: str,
        removable: bool = True,
    ) -> None:  # fmt: skip
        self.form, self.path, self.columns, self.kind = form, path, dict(columns), kind
        self.errors: dict[tuple[int, Key], str] = {}
        self.made = RowsTable(
            field_id(path), label, row, self._columns(), many=kind != "cells",
            removable=removable, on_commit=self._commit, on_try=lambda n, key, value: form.weigh(self.columns[key], self.where(n, key), value),
            on_lit=lambda n, key: form.lit(self.where(n, key), self.columns[key]), on_drop=self._drop,
        )  # fmt: skip

    def _columns(self) -> list[dict[str, Any]]:
        form, system, told = self.form, self.form.here.system, []
        for key, field in self.columns.items():
            way, options = form.chosen_from(field, (*self.path, 0, key))
            wide = 6 if self.kind != "rows" else WIDE.get(key, 7 if field.dimension else 10)
            told.append(
                {"key": key, "label": field.label, "hint": in_words(field.hint, system), "kind": way, "options": list(options),
                 "assumed": in_words(field.assumed, system), "needed": field.required, "wide": wide, "rare": (self.path[-1], key) in RARE}
            )  # fmt: skip
        return told

    def where(self, n: int, key: Key) -> KeyPath:
        return (*self.path, key) if self.kind == "cells" else (*self.path, n, key)

    def fill(self, wrong: dict[KeyPath | None, str]) -> None:
        held = at(self.form.data, self.path) or []
        held = [held] if self.kind == "cells" and held else held
        rows: list[dict[str, Any]] = [
            {"cells": {key: spoken(_cell(row, key)) for key in self.columns}, "fresh": False} for row in held
        ]
        drafts, needed = self.form.drafts, {key for key, field in self.columns.items() if field.required}
        begun = sorted(p for p in drafts if p == self.path or (p[:-1] == self.path and self.kind != "cells"))
        rows += [
            {"cells": {k: spoken(v) for k, v in draft.items()}, "fresh": bool(needed - draft.keys())}
            for draft in (drafts[p] for p in begun)
        ]
        for n, row in enumerate(rows):
            row["errors"] = {
                key: said for key in self.columns
                if (said := wrong.get(self.where(n, key)) or self.errors.get((n, key), ""))
            }  # fmt: skip
        self.made.say(rows=rows, columns=self._columns())

    async def _commit(self, n: int, key: Key, value: str, seen: str) -> None:
        error = await self.form.take(self.columns[key], self.where(n, key), value, seen)
        self.errors = {} if not error else {**self.errors, (n, key): error}
        self.form.fill()

    async def _drop(self, n: int) -> None:
        held = at(self.form.data, self.path)
        self.errors = {}
        if self.kind != "cells" and n >= len(held or ()):
            self.form.forget((*self.path, n))
        elif held is not None:
            last = self.kind == "cells" or len(held) == 1
            problems = await self.form.here.board.change([Put(self.path if last else (*self.path, n), None)])
            if problems:
                with self.form.client:
                    ui.notify(problem_words(problems))
        self.form.fill()


def _cell(row: Any, key: Key) -> Any:
    if isinstance(row, dict):
        return row.get(str(key))
    return row[key] if isinstance(row, list) and isinstance(key, int) and key < len(row) else None


class Beside:
    """The picture of what is measured: tapped, a number opens to be typed; with it what that means, and would bring."""

    def __init__(self, form: Form, path: KeyPath) -> None:
        self.form, self.path, self.top, self.picked = form, path, str(path[0]), ""
        self.seen: tuple[SeenOpening, ...] = ()
        self.own: list[tuple[InputField, Field, KeyPath]] = []  # the fields of what was picked
        form.lit, form.weighed = self.lit, self.weighed
        self.picture = SpotPicture(self.pick)
        self.placed = text("p", "", "note placed-words")
        with ui.element("section").classes("verdict-beside").props('aria-label="The number in hand"') as self.box:
            with ui.element("div").classes("row between"):
                self.about = text("p", "", "key")
                button(
                    "?",
                    lambda: self.told.set_visibility(not self.told.visible),
                    "quiet close",
                    aria_label="What to enter",
                )
                button("Close", self.close, "quiet close", aria_label="Close the number in hand")
            self.said = status("said-beside")
            self.fields = ui.element("div").classes("fields")
            self.told = text("p", "", "note", role="status")
            self.told.set_visibility(False)
        self.box.set_visibility(False)

    def close(self) -> None:
        self.form.entries = [one for one in self.form.entries if one not in self.own]
        self.own, self.picked = [], ""
        self.fields.clear()
        self.box.set_visibility(False)
        self.picture.say(chosen="")

    def tell(self) -> None:
        """Draw the job as it is now."""
        row, board, system = at(self.form.data, self.path) or {}, self.form.here.board, self.form.here.system
        self.picture.set_visibility(self.top in ("opening", "speaker", "adapter", "margins"))
        session, result, placed = board.session, board.result, ""
        if session is not None and self.top == "opening":
            if "distances" in str(row) and (result is None or result.digest != session.job.digest):
                return  # they are solved with the fit, beside the page
            self.seen = seen_at(session.job, row.get("id", ""))
            mine = [f.check for f in (() if result is None else result.findings) if f.check.code == "job.distances"
                    and f.subject.partition(".")[0] == row.get("id")]  # fmt: skip
            lying = [[f"{v.symbol} {show(v.value or 0.0, v.unit, system)}" for v in c.working] for c in mine]
            placed = " ".join(f"{sentences(c, system)} {'; '.join(v)}".strip() for c, v in zip(mine, lying))
        self.placed.say(placed)
        svg = sketch("speaker" if self.top == "speaker" else "opening")
        self.picture.say(sides=[asdict(one) for one in self.seen], sketch=svg, numbers=self.numbers(svg, row),
                         chosen=self.picked, inches=system == "us")  # fmt: skip

    def numbers(self, svg: str, row: Any) -> dict[str, str]:
        """What the half section says at its dimensions, "" where there is no number; of several readings the first."""
        found: dict[str, str] = {}
        for key in " ".join(re.findall(r'data-key="([^"]+)"', svg)).split():
            held = row
            for step in (*key.split("."), ""):
                held = held[0] if isinstance(held, list) and held else held
                held = held if not step else held.get(step) if isinstance(held, dict) else None
            if (field := find((self.top, *key.split(".")))) is not None:
                told = understood(field, held, self.form.here.system) if isinstance(field, Field) else ""
                plain = spoken(held) if isinstance(held, (str, int, float)) else ""
                if isinstance(field, Field) and field.kind == "pairs":
                    told, plain = "", f"{len(row[key])} points" if row.get(key) else ""
                found[key] = re.split(" ±|, standard", told)[0] or plain
        return found

    def where(self, key: str, side: str) -> tuple[KeyPath, FormTable | Field] | None:
        """Where a spot's number stands in the job, and what is filled in there."""
        steps = tuple(int(k) if k.isdigit() else k for k in key.split("."))
        path, data = self.path, self.form.data
        if isinstance(at(data, (*path, side)), dict) and any(s.side == side and steps[0] in s.own for s in self.seen):
            path = (*path, side)
        found = find((self.top, *(k for k in steps if isinstance(k, str))))
        if key in LISTS:  # of a list as such the next one
            steps = (*steps, len(at(data, (*path, key)) or ()))
        return None if found is None else ((*path, *steps), found)

    def pick(self, told: Mapping[str, str]) -> None:
        """Something on the picture was tapped: its number opens to be typed, the focus in it."""
        key, side, form = told["key"], told.get("side", ""), self.form
        again = key == self.picked
        self.close()
        angle = key.partition(".")[2] if key.startswith("unread.") else ""
        if angle not in ("", "all") and any(s.side == side and "behind" in s.mirrored for s in self.seen):
            angle = f"{(180.0 - float(angle)) % 360.0:g}"  # it goes where the first side was measured
        number = told.get("number") or ""  # which of its keys the half section shows
        row = f"{key}.0" if key in LISTS and number else "behind" if angle else key
        found = None if again else self.where(row, side)
        if found is None:
            return
        path, what = found
        if angle:  # a reading is to be taken there
            begun = form.drafts.setdefault(path, {})
            begun |= {"window": told["window"]} if told.get("window") else {}
            begun |= {} if angle == "all" else {"angle": f"{float(angle):g} deg"}
        one = isinstance(what, Field)
        fields = [what] if isinstance(what, Field) else [f for f in ordered(what.fields) if f.used and not f.columns]
        before, shown = len(form.entries), number.rpartition(".")[2] or NUMBER.get(key.partition(".")[0], "")
        there = {field.key: path if one else (*path, field.key) for field in fields[:MOST]}
        first = shown if shown in there and form.value(there[shown]) else fields[0].key
        with self.fields:
            for field in fields[:MOST]:
                form.entry(field, there[field.key], "e", first=field.key == first)
        self.own, self.picked = form.entries[before:], key
        self.picture.say(chosen=key)
        self.box.set_visibility(True)
        form.fill()

    def unread_first(self) -> None:
        """Show the first side and window state in which something was not measured."""
        self.picture.say(unreadFirst=int(self.picture._props["unreadFirst"]) + 1)

    def lit(self, path: KeyPath, field: Field) -> None:
        """A field has the focus."""
        own = any(p == path for _, _, p in self.own)
        if not own:
            self.close()
        key = ".".join(k for k in path if isinstance(k, str) and k not in ("left", "right"))
        self.picture.say(light=key.partition(".")[2])
        self.box.set_visibility(True)
        system = self.form.here.system
        words = "" if own else understood(field, self.form.value(path), system)
        self.about.say(path_words(path) + (f": {words}" if words else ""))
        self.told.say(in_words(". ".join(filter(None, (field.hint, schema_form.accepted(path, field)))), system))
        self.said.say("")

    def weighed(self, was: Assessment | None, now: Assessment | Problems) -> None:
        """What was typed was tried."""
        if isinstance(now, tuple):
            self.said.say("\u2715 " + problem_words(now))
            return
        row = at(self.form.data, self.path) or {}
        key = {"opening": "opening_id", "speaker": "speaker_id"}.get(self.top)
        places = [p for p in now.places if key is None or getattr(p, key) == row.get("id")]
        before = {(p.subject, p.speaker_id): p for p in (() if was is None else was.places)}
        found = [moved(before.get((p.subject, p.speaker_id)), p, now.show) for p in places]
        found = sorted(filter(None, found), key=lambda lines: min(lines)[:2])
        said = [
            words
            for n, lines in enumerate(found)
            for k, (turned, _, words) in enumerate(lines)
            if turned or n == k == 0
        ]
        none = "Checking \u2026" if now.preliminary else "Moves no clearance."
        self.said.say(" ".join(said) or (none if places else "No part joins it to a speaker yet: nothing to judge."))
