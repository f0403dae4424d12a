"""The command line: a file a command; it shows what `assess` found and never computes.

`--json` prints one document on stdout and nothing else there; messages go to stderr.  Exit codes: 0 done,
1 done and a finding says `stop`, 2 the input is wrong, 3 something needed is missing (and how to get it), 70
backwave itself failed (what to send stands there), 130 stopped by Ctrl-C,
143 asked to stop (SIGTERM), 129 its terminal closed (SIGHUP).
A command's file loads when that command is asked for, and its functions load what is heavy when they run, so that
`--help` and a mistyped option are answered at once.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
from contextlib import suppress
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperGroup

from backwave import __version__
from backwave.cli import process
from backwave.crash import INTERRUPTED, command_words, ending
from backwave.plain_text import plain_text

__all__ = ["app", "main"]

# Matrices here are small: a library's threads cost a third of a short command.  Nobody's plugins are looked for.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

COMMANDS = {  # in the order of the job: where the function is, and what it does
    "demo": ("demo:run", "Write the demo job and run all of it"),
    "new": ("start:new", "Start a job from six readings, or fewer"),
    "shelf": ("start:shelf_", "Keep openings and drivers for later jobs, and take them"),
    "check": ("check:run", "Judge the job: every finding, worst first"),
    "why": ("check:why", "Show the working behind one finding"),
    "make": ("make:run", "Make the parts, templates, dummies and drawings"),
    "predict": ("design:predict", "What each stage will bring at the seat"),
    "design": ("design:run", "A passive network, a capacitor, a box, a wiring of coils"),
    "sweep": ("read:sweep", "Write the test sweep to play"),
    "read": ("read:run", "Turn a recording of it into a response"),
    "impedance": ("impedance:run", "A driver's impedance over a known resistor, and its parameters"),
    "tune": ("tune:run", "Delays, levels and filters from recordings"),
    "pair": ("wire:pair", "Find a pair of factory wires, behind its gate"),
    "wire": ("wire:run", "Supply, cable, fuse, ground, gain, harness"),
    "plan": ("plan:run", "Checklist and shopping list: who does what, what to buy"),
    "pack": ("pack:run", "The dossier: one PDF and a folder to hand over"),
    "open": ("start:open_", "Open the workbench in the browser"),
    "help": ("start:help_", "What a key, a finding or a word means"),
    "schema": ("start:schema", "Print the JSON Schema of job.toml"),
}


class _Commands(TyperGroup):
    """Commands that are known by name until one of them is asked for."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        if (name := args[0]) in COMMANDS:
            one = typer.Typer(add_completion=False, rich_markup_mode=None)
            module, function = COMMANDS[name][0].split(":")
            one.command(name)(getattr(import_module(f"{__name__}.{module}"), function))
            self.commands[name] = typer.main.get_command(one)
        return super().resolve_command(ctx, args)


app = typer.Typer(
    name="backwave",
    cls=_Commands,
    help="Fit better loudspeakers into vehicles: measure, judge, make, seal, prove. One job folder, many views of it.",
    epilog="A job is a folder with one file you write, job.toml. `backwave` alone says what to do next in this one.",
    invoke_without_command=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help starts in half the time
    context_settings={"help_option_names": ["-h", "--help"]},
)
for _name, (_, _short) in COMMANDS.items():
    app.command(_name, short_help=_short)(lambda: None)


def _version(wanted: bool) -> None:
    if wanted:
        print(f"backwave {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    context: typer.Context,
    version: bool = typer.Option(False, "--version", callback=_version, is_eager=True, help="Print the version."),
) -> None:
    del version
    if context.invoked_subcommand is None:
        raise import_module(f"{__name__}.start").here()


def main(args: list[str] | None = None) -> None:
    """Run the command line and leave with its exit code."""
    gc.disable()  # a command is short and makes no heaps of cycles; looking for them costs a tenth of its start
    atexit.register(gc.freeze)  # and as much again at its end, where the language would look once more
    process.guard()
    code, words = 0, ""
    with process.unwinding() as stopped:
        code, words = _run(args)
    if stopped:  # whatever came up on the way out
        code, words = stopped[0], "Stopped."
    with suppress(OSError):  # a message that nobody can be told is no reason for another exit code
        if words:
            print(words, file=sys.stderr, flush=True)
    trouble = process.finish()
    if trouble is not None and code in (0, 1):
        end = ending(trouble)
        code = end.exit_code
        with suppress(OSError):
            print(end.words, file=sys.stderr, flush=True)
    sys.exit(code)


# typer hands on what the words of a command line get wrong, but exports only its kinds
_USAGE = next(kind for kind in typer.BadParameter.__mro__ if kind.__name__ == "ClickException")


def _run(args: list[str] | None) -> tuple[int, str]:
    """The exit code of a command line, and what is to be said at its end."""
    try:
        code = app(args=args, standalone_mode=False)
    except typer.Abort as error:
        if isinstance(error.__context__ or error.__cause__, KeyboardInterrupt):
            return INTERRUPTED, "Stopped."
        return 2, "Stopped: an answer was asked for, and the input has ended. Nothing was written."
    except BaseException as error:  # noqa: BLE001 - the front door: whatever it is, it leaves as a sentence
        if isinstance(error, _USAGE):
            return _misused(error)
        # a library's; the framework's own, where a pipe broke, says 1: never a verdict
        if isinstance(error, SystemExit):
            if isinstance(error.code, int) and error.code != 1:
                return error.code, ""
            error = error.__context__ or error
        end = ending(error, command_words(sys.argv[1:] if args is None else args))
        return end.exit_code, end.words
    return (code, "Stopped.") if code == INTERRUPTED else (code if isinstance(code, int) else 0, "")


def _misused(error: BaseException) -> tuple[int, str]:
    """What is wrong with the words of a command line, and where its help is."""
    context = getattr(error, "ctx", None)
    lines = [] if context is None else [context.get_usage(), f"Help: {context.command_path} --help"]
    lines.append(f"Error: {error.format_message()}")  # type: ignore[attr-defined]  # see _USAGE
    return 2, plain_text("\n".join(lines), lines=True)
