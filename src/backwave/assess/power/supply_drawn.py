"""What the drawing of the supply is told: each run with what it does and how that was judged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backwave.finding import Verdict, worst
from backwave.notation.measures import wire_size
from backwave.power import CableChoice, FuseChoice
from backwave.units import show

if TYPE_CHECKING:
    from backwave.assess.power.supply import Wires
    from backwave.drawing.supply import SupplyView


def size_words(cable: CableChoice, system: str) -> str:
    """Which size is bought or there, and whether the nearest of the other series will do in its place."""
    size = wire_size(cable.size, system)
    if not size:
        return "no size will do"
    other = f"AWG {cable.awg}" if cable.awg and "AWG" not in cable.size and system == "metric" else ""
    if cable.given:
        return f"{size}, there already" + (f"; {other} would do" if other and cable.fails else "")
    return f"{size} (or AWG {cable.awg})" if other else size


def fuse_words(fuse: FuseChoice) -> str:
    """Rating, style and color of a fuse."""
    if fuse.rating_a is None:
        return "none will do"
    return " ".join(filter(None, (f"{fuse.rating_a:g} A", fuse.style, fuse.color)))


def supply_view(made: Wires, title: str, system: str = "metric") -> SupplyView:
    """What the drawing of the supply is told."""
    from backwave.drawing.supply import SupplyRun, SupplyView

    by_subject: dict[str, list[Verdict]] = {}
    for finding in made.findings:
        by_subject.setdefault(finding.subject, []).append(finding.check.verdict)
    peak = made.peaks[-1]  # engine running, where anything is known of that
    at = {load.name: load.volts for load in peak.loads}
    runs = []
    for node in made.tree.nodes:
        cable = node.cable
        size = size_words(cable, system)
        held = fuse_words(node.fuse) if node.fitted else ""
        doing = [f"sized for {show(cable.current_a, 'A', system)}"]
        doing += [f"drops {show(cable.drop_v, 'V', system)}"] if cable.drop_v is not None else []
        doing += [f"conductor {show(cable.conductor_degc, 'degC', system)}"] if cable.conductor_degc is not None else []
        end = f"{show(at[node.load], 'V', system)} at rated power, engine {peak.engine}" if node.load in at else ""
        runs.append(
            SupplyRun(
                node.id, node.parent, node.load or node.id, bool(node.load), f"{size}, {show(cable.length_m, 'm', system)}",
                ", ".join(doing), held, end, worst(by_subject.get(node.id, [])),
            )
        )  # fmt: skip
    supply = made.supply
    battery = ["battery"]
    battery += [show(supply.battery_v, "V", system)] if supply.battery_v is not None else []
    battery += [f"{supply.capacity_ah:g} Ah"] if supply.capacity_ah is not None else []
    verdict = worst([v for verdicts in by_subject.values() for v in verdicts])
    text = {"ok": "every cable outlasts its fuse", "caution": "look again", "stop": "do not switch it on"}[verdict]
    return SupplyView(
        "Supply, from the battery outward",
        title,
        verdict,
        text,
        ", ".join(battery),
        tuple(runs),
        ("Each fuse saves the cable behind it; the one at the battery sits as near to it as it can.",
         "Vehicle maker's service information, local codes and licensed practice come first."),
    )  # fmt: skip
