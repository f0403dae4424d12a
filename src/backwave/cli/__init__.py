"""The command line: a file a command; it shows what `assess` found and never computes.

`--json` prints one document on stdout and nothing else there; messages go to stderr.  Exit codes: 0 done,
1 done and a finding says `stop`, 2 the input is wrong, 3 something needed is missing (and how to get it).
Heavy libraries load inside the command that needs them, so that `--help` answers at once.
"""

from __future__ import annotations

import gc
import os
import sys

import typer

from backwave import __version__
from backwave.cli import (
    check,
    demo,
    design,
    impedance,
    make,
    new,
    open_,
    pack,
    pair,
    plan,
    predict,
    read,
    schema,
    shelf,
    sweep,
    tune,
    why,
    wire,
)
from backwave.errors import BackwaveError

__all__ = ["app", "main"]

app = typer.Typer(
    name="backwave",
    help="Fit better loudspeakers into vehicles: measure, judge, make, seal, prove. One job folder, many views of it.",
    epilog="A job is a folder with one file you write, job.toml. Start: backwave new DIR, or see one: backwave demo.",
    invoke_without_command=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help starts in half the time
    context_settings={"help_option_names": ["-h", "--help"]},
)


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
        print(context.get_help())


# In the order of the job.
for _module, _short in (
    (demo, "Write the demo job and run all of it"),
    (new, "Start a job from six readings, or fewer"),
    (shelf, "Keep openings and drivers for later jobs, and take them"),
    (check, "Judge the job: every finding, worst first"),
    (why, "Show the working behind one finding"),
    (make, "Make the parts, templates, stand-ins and drawings"),
    (predict, "What each stage will bring at the seat"),
    (design, "A passive network, a capacitor, a box, a wiring of coils"),
    (sweep, "Write the test sweep to play"),
    (read, "Turn a recording of it into a response"),
    (impedance, "A driver's impedance over a known resistor, and its parameters"),
    (tune, "Delays, levels and filters from recordings"),
    (pair, "Find a pair of factory wires, behind its gate"),
    (wire, "Supply, cable, fuse, ground, gain, harness"),
    (plan, "Checklist and shopping list: who does what, what to buy"),
    (pack, "The dossier: one PDF and a folder to hand over"),
    (open_, "Open the workbench in the browser"),
    (schema, "Print the JSON Schema of job.toml"),
):
    app.command(_module.__name__.rpartition(".")[2].rstrip("_"), short_help=_short)(_module.run)


def main(args: list[str] | None = None) -> None:
    """Run the command line and leave with its exit code.

    Parameters
    ----------
    args : list of str or None, no unit
        The arguments; None takes the process's own.
    """
    gc.disable()  # a command is short and makes no heaps of cycles; looking for them costs a tenth of its start
    try:
        app(args=args, standalone_mode=True)
    except BackwaveError as error:
        print(error, file=sys.stderr)
        sys.exit(error.exit_code)
    except BrokenPipeError:  # `backwave check | head` is not a fault; keep the interpreter's last flush quiet
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
