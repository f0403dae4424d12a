"""`backwave sweep`: what the vehicle plays, with the description that `read` needs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from backwave.atomic_write import write_whole
from backwave.cli import output
from backwave.errors import InputError
from backwave.finding import Finding, sentences
from backwave.units import parse

MAX_OUTPUTS = 8  # each has a sweep of its own: with more the file is longer than a recording of it may be


def run(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The WAV file to write; its description goes beside it.")
    ],
    kind: Annotated[str, typer.Option(help="response, rattle, jig, beeps, noise, polarity or tone.")] = "response",
    outputs: Annotated[str, typer.Option(help="Names of the file's channels, in order.")] = "left,right",
    level: Annotated[str, typer.Option(help="Peak against full scale.")] = "-12 dB",
    identified: Annotated[
        bool,
        typer.Option("--identified", help="You have heard which driver speaks on each output: allow more than -40 dB."),
    ] = False,
    driver: Annotated[
        str, typer.Option(help="What should be on these outputs: woofer, midrange, tweeter, coaxial, subwoofer.")
    ] = "",
    low: Annotated[str, typer.Option(help="Lowest frequency.")] = "",
    high: Annotated[str, typer.Option(help="Highest frequency.")] = "",
    length: Annotated[str, typer.Option(help="Of each sweep, or of the whole.")] = "",
    tone: Annotated[str, typer.Option(help="Frequency of the tone.")] = "315 Hz",
    rate: Annotated[int, typer.Option(help="44100 or 48000 samples a second.")] = 48000,
    bits: Annotated[int, typer.Option(help="16 or 24.")] = 24,
    as_json: output.AsJson = False,
) -> None:
    """Write the test sweep to play, or beeps, noise, pulses, a tone; quiet until you have confirmed what speaks where."""
    import numpy as np

    from backwave.assess import finding_json
    from backwave.assess.proof.signals import signal_of
    from backwave.files.recordings import write_wave

    if file.suffix.lower() != ".wav":
        raise InputError("name of the sweep's file", file.name, "a name that ends in .wav")
    names = tuple(name.strip() for name in outputs.split(","))
    if not all(names) or len(names) > MAX_OUTPUTS:
        raise InputError("outputs", outputs, f"1 to {MAX_OUTPUTS} names with a comma between, such as left,right")
    hz = parse(tone, "frequency").to("Hz")
    # below, a tone is close to direct current; above, the file cannot hold it
    if kind == "tone" and not 10.0 <= hz <= rate / 2.2:
        raise InputError("frequency of the tone", tone, f"10 Hz to {rate / 2200:.0f} kHz")
    band = None
    if low or high:
        widest = ("20 Hz", "300 Hz" if kind == "rattle" else "20 kHz")
        bottom, top = (parse(end or most, "frequency").to("Hz") for end, most in zip((low, high), widest, strict=True))
        band = (bottom, top)
    length_s = parse(length, "time").to("s") if length else None
    made = signal_of(kind, rate, names, parse(level, "level").to("dB"), identified, band, length_s, hz, driver)
    file.parent.mkdir(parents=True, exist_ok=True)
    write_wave(file, made.samples, rate, bits)
    beside = write_whole(file.with_suffix(".json"), (json.dumps(made.description, indent=2) + "\n").encode())
    if as_json:
        checks = [finding_json(Finding(check, "sweep")) for check in made.checks]
        output.document({"file": str(file), "description": str(beside), "findings": checks, **made.description})
        return
    peak_db = 20.0 * np.log10(max(float(np.abs(made.samples).max()), 1e-9))
    lines = [
        f"\n{output.relative(file)}  {len(made.samples) / rate:.0f} s, {rate} Hz, {bits} bit",
        f"{output.relative(beside)}  what it is; `backwave read` needs it\n",
        *(f"  ▲ {sentences(check, 'metric')}" for check in made.checks if check.verdict != "ok"),
        f"  Written with its peaks at {peak_db:.1f} dB of full scale.",
    ]
    if not identified and kind == "jig":
        lines.append("  Quiet on purpose. When the driver lies on the bench, unplugged from the vehicle, at a headphone output: --identified")  # fmt: skip
    elif not identified:
        lines.append("  When you have heard which driver speaks on each output: --identified --driver WHICH")
    for line in (*lines, ""):
        output.console().print(line, soft_wrap=True)
