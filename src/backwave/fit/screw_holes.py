"""Whether a screw goes through its hole and its head stays on it, and what holds at a slam and for years in the heat.

Pull-out is taken as shear over the cylinder that an insert, a thread or a nut sits in.  A head is held to have sunk in
where its pressure, left on for a thousand hours, strains the material by `STRAIN` (creep modulus, ISO 899-1).
Tightening follows from half of what lets go by T = K d F with K = 0.2 (the usual short form of the tightening of a
screw, machine-design textbooks; VDI 2230 has the long one)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict, check_of
from backwave.fit.bolt_pattern import Hole
from backwave.fit.fixing_load import GRAVITY, MODEL, SLAM_G, fixing_loads_n
from backwave.fit.screw import NO_SCREW, ChosenScrew, Threads
from backwave.shape import Outline
from backwave.stock import FixingRow, SleeveRow, Stock

REST_MM = 0.8  # of a head or washer on metal, all round; common trade practice
PILOT_MM = 0.3  # how far a pilot hole may be off its row's; common trade practice
READ_MM = 0.25  # how far a caliper is off in a thread, and what its tolerance takes; common trade practice
BEHIND_HOLE = ("sheet nut", "expansion nut", "bolt")


@dataclass(frozen=True)
class Washer:
    """A washer as it is bought: "M4" of the normal series, "M4 large" of the large one."""

    name: str
    inner_mm: float
    outer_mm: float
    height_mm: float
    cited: str


def washers(stock: Stock, d_mm: float) -> tuple[Washer, ...]:
    """The washers that a screw of `d_mm` takes, the smaller first; none where no row is wide enough."""
    fitting = [row for row in map(stock.washer, ("M3", "M4", "M5", "M6")) if row.inner_mm >= d_mm]
    return tuple(
        washer
        for row in fitting[:1]
        for washer in (
            Washer(row.name, row.inner_mm, row.outer_mm, row.height_max_mm, row.cited),
            Washer(f"{row.name} large", row.inner_mm, row.large_outer_mm, row.large_height_mm, row.cited),
        )
    )


def washer_over(stock: Stock, d_mm: float, head_mm: float, hole_mm: float) -> Washer | None:
    """The washer that keeps a head of `head_mm` on a hole: None where the head does, or where no washer does."""
    if (head_mm - hole_mm) / 2.0 >= REST_MM:
        return None
    return next((w for w in washers(stock, d_mm) if (w.outer_mm - hole_mm) / 2.0 >= REST_MM), None)


def driver_hole_checks(stock: Stock, screw: ChosenScrew, holes: Sequence[Hole]) -> tuple[Check, ...]:
    """The driver's screw in the driver's own holes: it passes, and its head (or washer) rests on the frame."""
    if not holes:
        return ()
    sizes = stock.clearance_hole(screw.size)
    tight, wide = min(h.diameter_mm for h in holes), max(h.diameter_mm for h in holes)
    washer = next((w for w in washers(stock, sizes.d_mm) if w.name == screw.washer), None)
    head = max(screw.head_mm, 0.0 if washer is None else washer.outer_mm)
    rest = (head - wide) / 2.0
    about = (
        ("size", screw.size, ""), ("tight", tight, "mm"), ("wide", wide, "mm"), ("head", head, "mm"),
        ("fine", sizes.fine_mm, "mm"), ("other", _other(stock, tight, wide), ""),
    )  # fmt: skip
    passes: Verdict = "ok" if tight >= sizes.fine_mm - 1e-6 else "caution" if tight >= sizes.d_mm else "stop"
    other = "" if not _other(stock, tight, wide) else ", or take {other} in place of {size}"
    what = "head" if washer is None else "washer"
    rests: Verdict = "ok" if rest >= REST_MM - 1e-6 else "caution" if rest > 0.0 else "stop"
    through = {"ok": "goes through", "caution": "is tight in", "stop": "does not go through"}[passes]
    on = {"ok": "rests on", "caution": "hardly rests on", "stop": "falls through"}[rests]
    return (
        check_of(
            "fit.screw", passes, f"{{size}} {through} the driver's holes ({{tight}})",
            "" if passes == "ok" else "Drill the driver's holes to {fine}" + other, about, (tight, sizes.fine_mm, "mm"),
            (
                CalculationLine("D", "smallest hole (width of a slot) of the driver", tight, "mm", "the job"),
                CalculationLine("d", f"hole that {screw.size} wants, fine series", sizes.fine_mm, "mm", sizes.cited),
            ),
            (sizes.cited,), "holes.diameter", "driver-hole",
        ),
        check_of(
            "fit.screw", rests, f"The {what} of {{size}} ({{head}}) {on} the driver's holes ({{wide}})",
            "" if rests == "ok" else "Put a plate with a hole of {fine} under each head" + other, about,
            (rest, REST_MM, "mm"),
            (
                CalculationLine("D", "largest hole (width of a slot) of the driver", wide, "mm", "the job"),
                CalculationLine("k", f"diameter of the {what}", head, "mm", screw.check.sources[-1]),
                CalculationLine("r", "(k - D) / 2, all round", rest, "mm", PRACTICE),
            ),
            key="holes.diameter", part="driver-head",
        ),
    )  # fmt: skip


def _other(stock: Stock, tight_mm: float, wide_mm: float) -> str:
    """The thickest metric screw that passes the driver's holes with its head, or a washer, on them; "" for none."""
    return next((size for size in ("M6", "M5", "M4", "M3") if suits(stock, size, tight_mm, wide_mm)), "")


def suits(stock: Stock, size: str, tight_mm: float, wide_mm: float) -> bool:
    """Whether a metric screw passes the driver's tightest hole and its head, or a washer, rests on the widest."""
    sizes = stock.clearance_hole(size)
    outer = max([stock.screw(size, "button").head_mm, *(w.outer_mm for w in washers(stock, sizes.d_mm))])
    return sizes.fine_mm <= tight_mm + 1e-6 and (outer - wide_mm) / 2.0 >= REST_MM


def metal_hole_checks(stock: Stock, read_mm: Sequence[tuple[str, FixingRow, float]]) -> tuple[Check, ...]:
    """Each fixing's hole in the metal, as read (name, row, diameter), against the one its screw wants. A self-tapping
    screw wants its pilot hole; through the hole before a nut the screw has to pass; of a rivet nut or a stud the thread
    was read, or the bare hole. The worst of all."""
    found = []
    for name, row, hole in read_mm:
        if row.holds in NO_SCREW:
            continue
        judged = _pilot if row.holds == "self-tap" else _through if row.holds in BEHIND_HOLE else _threaded
        check = judged(stock, name, row, hole)
        if check is not None:
            found.append(check)
    return tuple(sorted(found, key=lambda c: c.verdict != "stop")[:1])


def head_checks(stock: Stock, heads_mm: Sequence[tuple[str, FixingRow, float | None]]) -> tuple[Check, ...]:
    """Heads as entered (name, row, diameter; None: not entered) that go through the part's own hole. The worst."""
    holes = [
        (h, stock.clearance_hole(row.screw).medium_mm, n, row) for n, row, h in heads_mm if h is not None and row.screw
    ]
    head, hole, name, row = min(holes, key=lambda one: one[0] - one[1], default=(1.0, 0.0, "", None))
    if row is None or head > hole:
        return ()
    about = (("name", name, ""), ("head", head, "mm"), ("hole", hole, "mm"), ("size", row.screw, ""))
    said = Message("{name}: the head of {head} goes through the part's hole of {hole} for {size}", about)
    again = Message("Measure head and hole again: a head has to be wider than {hole}", about)
    working = (
        CalculationLine("D", "head", head, "mm", "the job"),
        CalculationLine("d", f"hole for {row.screw}", hole, "mm"),
    )
    return (Check(
        "fit.fixing", "stop", said, value=head, limit=hole, unit="mm", remedy=again, working=working,
        sources=(stock.clearance_hole(row.screw).cited,), key="fixings", part="head",
    ),)  # fmt: skip


def _pilot(stock: Stock, name: str, row: FixingRow, hole: float) -> Check | None:
    tap, off = stock.tapping_screw(row.screw), hole - row.hole_mm
    if abs(off) <= PILOT_MM:
        return None
    rows = [r for r in stock.of(FixingRow) if r.holds == row.holds]
    fits = next((r.screw for r in rows if r.metal == row.metal and abs(r.hole_mm - hole) <= PILOT_MM), "")
    nuts = [r for r in stock.of(FixingRow) if r.holds == "rivet nut"]
    nut = min((r for r in nuts if r.metal == row.metal and r.hole_mm >= hole), key=lambda r: r.hole_mm, default=None)
    about = (
        ("name", name, ""), ("size", row.screw, ""), ("hole", hole, "mm"), ("pilot", row.hole_mm, "mm"),
        ("fits", fits, ""), ("nut", "" if nut is None else nut.screw, ""),
        ("drill", 0.0 if nut is None else nut.hole_mm, "mm"),
    )  # fmt: skip
    # A fifth of the thread's depth or less in the metal: it strips as it is driven.
    loose: Verdict = "stop" if tap.d_mm - hole <= 0.2 * (tap.d_mm - tap.core_mm) else "caution"
    remedy = "Drill it to {pilot}"
    if off > 0.0:
        remedy = (
            "Take {fits}"
            if fits
            else "Drill it to {drill} and set a rivet nut {nut}"
            if nut is not None
            else "Back it with a plate that has a hole of {pilot}"
        )
    title = "{name}: {size} wants a hole of {pilot} to bite in, this one has {hole}"
    return _hole_check("caution" if off < 0.0 else loose, Message(title, about), hole, row, Message(remedy, about))


def _through(stock: Stock, name: str, row: FixingRow, hole: float) -> Check | None:
    d = stock.clearance_hole(row.screw).d_mm
    if hole >= d:
        return _too_wide(stock, name, row, hole)
    about = (("name", name, ""), ("size", row.screw, ""), ("hole", hole, "mm"), ("wants", row.hole_mm, "mm"))
    title = Message("{name}: {size} does not go through the hole of {hole} in the metal", about)
    return _hole_check("stop", title, hole, row, Message("Drill it to {wants}, or take a thinner screw", about))


def _too_wide(stock: Stock, name: str, row: FixingRow, hole: float) -> Check | None:
    """A nut that falls through the hole in the metal; under a bolt's nut the large washer rests on it."""
    widest = row.hole_mm + READ_MM
    if row.holds == "bolt":
        d = stock.clearance_hole(row.screw).d_mm
        widest = max((w.outer_mm for w in washers(stock, d)), default=widest) - 2.0 * REST_MM
    elif row.screw.startswith("M"):
        widest = max(widest, stock.clearance_hole(row.screw).medium_mm)
    if hole <= widest:
        return None
    about = (
        ("name", name, ""), ("holds", row.holds, ""), ("size", row.screw, ""), ("hole", hole, "mm"),
        ("wants", row.hole_mm, "mm"),
    )  # fmt: skip
    title = "{name}: a {holds} {size} wants a hole of {wants}, this one has {hole}: it falls through"
    remedy = "Measure the hole again; if it is right, back it with a plate that has a hole of {wants}"
    return _hole_check("stop", Message(title, about), hole, row, Message(remedy, about))


def _takes(stock: Stock, row: FixingRow, hole: float) -> bool:
    """Whether a hole is the row's: its thread over the crests or the cores (D1 = d - 1.0825 P, ISO 724), or bare."""
    if not row.screw.startswith("M"):
        return False
    sizes = stock.clearance_hole(row.screw)
    core = sizes.d_mm - 1.0825 * stock.screw(row.screw, "socket").pitch_mm
    crests = sizes.d_mm - READ_MM <= hole <= sizes.medium_mm + 1e-6
    if row.holds == "stud":
        return crests
    return crests or abs(hole - core) <= READ_MM or abs(hole - row.hole_mm) <= READ_MM


def _threaded(stock: Stock, name: str, row: FixingRow, hole: float) -> Check | None:
    """A rivet nut or a stud: a hole or thread that is not the one its screw wants."""
    if not row.screw.startswith("M") or _takes(stock, row, hole):
        return None
    rows = [r for r in stock.of(FixingRow) if (r.holds, r.metal) == (row.holds, row.metal)]
    fits = " or ".join(r.screw for r in rows if _takes(stock, r, hole))
    d, wide = (stock.clearance_hole(row.screw), max(row.hole_mm + READ_MM, stock.clearance_hole(row.screw).medium_mm))
    small = hole < d.d_mm - 1.0825 * stock.screw(row.screw, "socket").pitch_mm
    about = (
        ("name", name, ""), ("holds", row.holds, ""), ("size", row.screw, ""), ("hole", hole, "mm"),
        ("d", d.d_mm, "mm"), ("wants", row.hole_mm, "mm"), ("fits", fits, ""),
    )  # fmt: skip
    wants = "a thread of {d}" + (", or a bare hole of {wants}" if row.hole_mm else "")
    remedy = "Take a screw {fits}" if fits else "Measure it again"
    if row.holds == "rivet nut" and hole < row.hole_mm:
        remedy += ", or drill it to {wants} and set a rivet nut {size}"
    elif not fits:
        remedy += "; if it is right, take a fixing made for {hole}"
    return _hole_check(
        "stop" if small or hole > wide else "caution",
        Message(f"{{name}}: a {{holds}} {{size}} has {wants}; {{hole}} was read", about), hole, row, Message(remedy, about),
    )  # fmt: skip


def _hole_check(verdict: Verdict, title: Message, hole: float, row: FixingRow, remedy: Message) -> Check:
    return Check(
        "fit.fixing", verdict, title, value=hole, limit=row.hole_mm, unit="mm", remedy=remedy,
        working=(
            CalculationLine("D", "hole in the metal", hole, "mm", "the job"),
            CalculationLine("D0", f"hole that a {row.holds} {row.screw} wants", row.hole_mm, "mm", row.cited),
        ),
        sources=(row.cited,), key="fixings", part="hole",
    )  # fmt: skip


SHEAR = "shear over the cylinder that the thread sits in"
STRAIN = 0.005  # under a head after a thousand hours; common trade practice
CLAMP_N = 250.0  # minimum that keeps a screw from working loose; common trade practice
TIGHT_SHARE = 0.5  # of what lets go, for tightening; common trade practice
NUT_FACTOR = 0.2
HOT_SAFETY = 2.0  # what a low strength, on the hottest day, still has over the hardest slam; common trade practice
SLEEVE_PLAY_MM = 0.2  # hole over a sleeve, in diameter; common trade practice


@dataclass(frozen=True)
class Support:
    """What lies under a head that presses on the part."""

    washer: Washer | None
    sleeve: SleeveRow | None
    force_n: float  # that stays on the part
    area_mm2: float

    @property
    def pressure_mpa(self) -> float:
        """Pressure on the part."""
        return self.force_n / self.area_mm2


def head_support(
    stock: Stock, size: str, head_mm: float, hole_mm: float, clamp_n: float, steady_n: float, allowed_mpa: float,
    widest_mm: float,
) -> Support:  # fmt: skip
    """The least that keeps a head from sinking in: nothing, a washer, a large one, or a sleeve with a washer on it.
    `stock`, mm; `clamp_n`, `steady_n`: what a screw has to clamp with, and what of it pushes the part off the metal
    for ever: with a sleeve only that is left on the part; `allowed_mpa`, MPa: pressure that the material bears for
    years."""
    sleeve = stock.named(SleeveRow).get(size)
    found = []
    for tube in (None, sleeve) if sleeve is not None else (None,):
        for washer in (None, *washers(stock, stock.clearance_hole(size).d_mm)):
            outer = max(head_mm, 0.0 if washer is None else washer.outer_mm)
            hole = hole_mm if tube is None else tube.outer_mm + SLEEVE_PLAY_MM
            area = pi / 4.0 * (outer**2 - hole**2)
            if area <= 0.0 or (washer is not None and outer > widest_mm):
                continue
            one = Support(washer, tube, clamp_n if tube is None else max(steady_n, 1.0), area)
            if one.pressure_mpa <= allowed_mpa:
                return one
            found.append(one)
    return min(found, key=lambda one: one.pressure_mpa)


def bearing_check(
    name: str, support: Support, material: str, allowed_mpa: float, hot_degc: float, source: str, others: Sequence[str]
) -> Check:
    """The pressure under a head (of the fixing that has least in hand) against what the part bears in the heat. `name`,
    `material`, `source`: the fixing, what the part is made of, where its creep is from; `support`, mm and N;
    `allowed_mpa`, `hot_degc`, MPa and degC: what the material bears for years as hot as it gets there."""
    pressure = support.pressure_mpa
    washer = support.washer
    under = "A bare head" if washer is None else "A large washer" if "large" in washer.name else "A washer"
    about = (
        ("under", under + (" on a sleeve" if support.sleeve is not None else ""), ""), ("name", name, ""),
        ("material", material, ""), ("pressure", pressure, "MPa"), ("allowed", allowed_mpa, "MPa"),
        ("hot", hot_degc, "degC"), ("others", " or ".join(others), ""),
    )  # fmt: skip
    good = pressure <= allowed_mpa + 1e-9
    remedy = "Make the part of {others}" if others else "Keep the screws tight: check them after every hot spell"
    return check_of(
        "fit.bearing", "ok" if good else "caution",
        "{under} at {name} presses on {material} with {pressure}; at {hot} it bears {allowed} for years",
        "" if good else remedy, about, (pressure, allowed_mpa, "MPa"),
        (
            CalculationLine(
                "F", "force that stays on the part", support.force_n, "N",
                f"gasket and slam, {CLAMP_N:g} N at least; with a sleeve the gasket alone; {PRACTICE}",
            ),
            CalculationLine("A", "area under head or washer, less the hole", support.area_mm2, "mm2"),
            CalculationLine("p", "F / A", pressure, "MPa"),
            CalculationLine("p_most", f"{100 * STRAIN:g} % of its creep modulus at {hot_degc:g} degC", allowed_mpa, "MPa", source),
        ),
        (source, PRACTICE), "adapter.material",
    )  # fmt: skip


def thread_holds_n(stock: Stock, threads: Threads, engagement_mm: float, over_mm: float, shear_pa: float) -> float:
    """Pull that lets go of one of the driver's threads. `stock`, mm; `engagement_mm`, `over_mm`: thread of a
    self-tapping screw in the part; part over a nut in its pocket."""
    if threads.kind == "insert":
        insert = stock.insert(threads.name)
        around, deep = insert.hole_mm, insert.length_mm
    elif threads.kind == "nut":
        around, deep = stock.nut(threads.size).flats_mm, over_mm
    else:
        around, deep = stock.tapping_screw(threads.size).d_mm, engagement_mm
    return pi * around * max(deep, 0.0) * shear_pa * 1e-6


def driver_hold_check(
    xy_mm: Sequence[tuple[float, float]], mass_kg: float, z_mm: float, thread: str, holds_n: tuple[float, float],
    others: Sequence[tuple[str, float]], hot_degc: float, source: str, frame: Outline | None = None,
) -> Check:  # fmt: skip
    """The pull on the driver's own threads at a slam, against what the part holds them by, cold and hot. `mass_kg`,
    `z_mm`: the driver's mass, and its middle off the seat; `thread`, `source`: what the screws go into, where the
    material's strength is from; `others`, N: what else could be set there, with what holds it hot; `frame`: its edge."""
    load = max(fixing_loads_n(xy_mm, mass_kg, (0.0, 0.0, z_mm), edge=frame))
    cold, hot = holds_n
    allowed = hot / HOT_SAFETY
    verdict: Verdict = "ok" if load <= allowed else "caution" if load <= cold else "stop"
    better = next((name for name, holds in others if load <= holds / HOT_SAFETY), "")
    about = (
        ("load", load, "N"), ("thread", thread, ""), ("allowed", allowed, "N"), ("hot", hot_degc, "degC"),
        ("better", better, ""), ("slam", f"{SLAM_G:g} g", ""),
    )  # fmt: skip
    remedy = "Screw the driver through the part into metal behind it: no thread in this part holds it"
    if better:
        remedy = "Take threads = {better}"
    return check_of(
        "fit.hold", verdict, "A slam of {slam} pulls with {load} on each {thread}; {allowed} allowed at {hot}",
        "" if verdict == "ok" else remedy, about, (load, allowed, "N"),
        (
            CalculationLine("m", "driver", mass_kg, "kg", "the job"),
            CalculationLine("a", f"{SLAM_G:g} g, in the worst direction", SLAM_G * GRAVITY, "m/s2", PRACTICE),
            CalculationLine("z", "its middle off the seat", z_mm, "mm", PRACTICE),
            CalculationLine("T", "greatest pull on one of its screws", load, "N", MODEL),
            CalculationLine("T_cold", "what lets go of the thread, cold", cold, "N", f"{SHEAR}; {source}"),
            CalculationLine("T_hot", f"at {hot_degc:g} degC", hot, "N", f"{SHEAR}; {source}"),
            CalculationLine("T_most", f"allowed, T_hot / {HOT_SAFETY:g}", allowed, "N", PRACTICE),
        ),
        (PRACTICE, MODEL, source), "threads",
    )  # fmt: skip


def unknown_hold_check(material: str) -> Check:
    """A material of which nobody has said what a thread holds in it."""
    return check_of(
        "fit.hold", "caution", "How hard {material} holds a thread is not known",
        "Enter a row for it: [[stock.creep]] with at_degc, e_pa and shear_pa", (("material", material, ""),),
        key="adapter.material",
    )  # fmt: skip


def tightening_check(what: str, down: str, d_mm: float, lets_go_n: float, part: str) -> Check:
    """How tight, in a fitter's words, with the torque beside it."""
    force = TIGHT_SHARE * lets_go_n
    torque = NUT_FACTOR * d_mm * 1e-3 * force
    return check_of(
        "fit.tightening", "ok",
        f"{what}: by hand with a screwdriver, crosswise, and stop when {down} ({{torque}} at most); no impact driver",
        "", (("torque", torque, "N m"),), (torque, None, "N m"),
        (
            CalculationLine("F", f"{100 * TIGHT_SHARE:g} % of what lets go or sinks in", force, "N", PRACTICE),
            CalculationLine("d", "screw", d_mm, "mm"),
            CalculationLine("T", f"{NUT_FACTOR:g} d F", torque, "N m", "T = K d F, machine-design textbooks"),
        ),
        part=part,
    )  # fmt: skip
