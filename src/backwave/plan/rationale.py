"""Why each task is done, in one sentence for somebody who has never done it; common trade practice."""

from __future__ import annotations

_WHY = {
    "consent": "What is drilled stays drilled, and a scratch that nobody pictured before is yours afterwards.",
    "shop": "A fuse or a screw that is not there ends the day, and the shops are shut when it is missed.",
    "before": "Without a recording from before nobody can say afterwards what the work brought.",
    "battery-off": "A shorted lead burns, and airbags and belt tensioners can fire as long as they have power.",
    "strip": "Most damage is done here: clips pulled from the wrong side break, and by evening nobody knows the order.",
    "survey": "All that is made follows from these numbers, and now is the only time that the metal lies bare.",
    "again": "A single reading can be a slip; one taken afresh shows it before the part is made.",
    "identify": "Plus has to meet plus, and a pair taken for the speaker's may be an airbag's.",
    "quiet": "The metal beside the driver is shaken most, and nobody gets at it once trim and driver are on.",
    "try": "Ten minutes with card and a thin ring show what a print of hours would show too late.",
    "settle": "A part made against a stop is made twice, or breaks what it touches.",
    "print": "Once its first layers hold, the printer works by itself: the earlier it starts, the less anybody waits.",
    "cut": "A thick part comes from thin layers, and an edge that is not sealed swells in a wet door.",
    "inserts": "A screw holds in bare plastic a few times only; a metal thread holds whenever the door is opened again.",
    "foam": "What leaks past the ring takes mid-bass with it, and without a soft layer the part rattles on the metal.",
    "box": "A box that leaks is no longer the one that was computed, and one that is loose flies forward in a crash.",
    "network": "The network keeps from the tweeter what burns it; a coil that is loose hums and saws through its leads.",
    "fit": "A frame pulled down on one side bends, and the coil then rubs in its gap.",
    "wire": "Two doors joined the wrong way round cancel each other's bass; a loose joint comes apart where things move.",
    "cable": "A supply cable that is rubbed bare is a fire: it is guarded all the way and fused at the battery.",
    "mount": "A ground on paint or far away brings hum and lost voltage; a device that is loose flies forward in a crash.",
    "power": "Power on an open airbag circuit sets its warning lamp or worse; with the fuse last, no spanner meets current.",
    "gain": "Set too high, the amplifier clips long before the knob is at its end, and nobody sees why it sounds harsh.",
    "test": "A crossed wire or a buzz is mended in a minute while the trim is off, in an hour when it is on.",
    "trim": "Every clip that is left out becomes a rattle, a draft or water in the door.",
    "rattle": "Many rattles are rods, looms and clips, and only show when the trim is on.",
    "measure": "The ear forgets within a minute; a recording shows what the work brought and where the prediction was out.",
    "tune": "What is written down can be set again after the battery was off, and taken back where it was worse.",
    "again-taught": "Many vehicles forget radio, windows and steering angle while the battery is off.",
    "engine": "A whine that follows the engine, or a door out of phase, is what everybody hears first.",
    "asleep": "A battery that is flat on Monday is the commonest comeback: an amplifier that stays on, a control unit kept awake.",
    "warnings": "Chimes, parking tones and emergency calls often come through the very speakers that were changed.",
    "hand-over": "Whoever opens this door next has to know what is in it.",
}


def why(id_: str) -> str:
    """Why a task of the checklist is done; "" where nobody wrote it down."""
    return _WHY.get(id_) or _WHY.get(id_.partition("-")[0], "")
