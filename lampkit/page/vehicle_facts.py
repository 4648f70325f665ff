"""What a job sheet says of the whole vehicle: what to watch, circuits, timing, earth, what to measure at the end."""

import numpy as np

from lampkit import numbers
from lampkit.circuits import ballast_resistor, earth
from lampkit.conversion import DOUBTED, Verdict
from lampkit.page.job_sheet_basis import alike, decided
from lampkit.plan import suitability
from lampkit.plan.circuit_reports import CircuitReport
from lampkit.plan.plan import Plan
from lampkit.plan.timing import SPEEDS, LampTiming
from lampkit.statements import Statement, named


def summary(plan: Plan) -> str:
    """Say in a sentence how many lamps are converted.

    Source: the kit's own wording.
    """
    verdicts = [decided(plan, lamp, assessment).verdict for lamp, assessment in alike(plan)]
    fit, measure, keep = (verdicts.count(v) for v in Verdict)
    parts = [f"{fit} can be fitted"] if fit else []
    parts += [f"{measure} can be fitted and must then be measured"] if measure else []
    parts += [f"{keep} {'keeps its filament' if keep == 1 else 'keep their filaments'}"] if keep else []
    kinds = "kind" if len(verdicts) == 1 else "kinds"
    return f"Of {len(verdicts)} {kinds} of lamp {numbers.listed(parts)}."


def to_watch(plan: Plan) -> tuple[tuple[str, str], ...]:
    """List what must not be overlooked, in few words.

    Source: the plan; common practice, no source, for the dual holder.
    """
    found: list[tuple[str, str]] = []
    groups = [(lamp, a, decided(plan, lamp, a)) for lamp, a in alike(plan)]
    for lamp, a, s in groups:
        if s.verdict is Verdict.KEEP:
            sought = plan.choice.look_for.get(lamp.name, "")
            found.append(("Stays.", f"{a.name} keeps its filament. {sought}".strip()))
    unsure = [a.name for _, a, s in groups if s.verdict is Verdict.FIT_THEN_MEASURE]
    if unsure:
        found.append(("Measure.", f"Likely, not sure, to match the filament: {numbers.listed(unsure)}."))
    if plan.choice.fitted:
        found.append(("Circuits.", " ".join(map(str, plan.choice.fitted))))
    if plan.vehicle.earth == "positive":
        bound = [offer.name for offer in plan.vehicle.offers if not offer.either_polarity]
        never = f"; {numbers.listed(bound)} would stay dark" if bound else ""
        found.append(("Positive earth.", f"Order light sources and flasher that suit it{never}."))
    wrong: dict[str, list[str]] = {}
    for _, a, _ in groups:
        for result in a.results:
            if result.colour is not None and not result.colour.inside:
                wrong.setdefault(result.source.name, []).append(a.name)
    if wrong:
        said = "; ".join(f"{name} in {numbers.listed(lamps)}" for name, lamps in wrong.items())
        found.append(("Wrong colour.", f"Do not fit {said}."))
    doubted = dict.fromkeys(
        f"{r.source.name} ({named(r.claim)})" for _, a, _ in groups for r in a.results if r.claim in DOUBTED
    )
    if doubted:
        found.append(("Claims.", f"The lumens on the box cannot be trusted: {numbers.listed(list(doubted))}."))
    brights = [plan.vehicle.lamps[i] for i, _ in suitability.holders(plan.vehicle.lamps)]
    if any(plan.fitted(lamp.name) for lamp in brights):
        found.append(
            ("Double holders.", "Bright must be the stop lamp and dim the tail lamp: old holders are often crossed.")
        )
    return tuple(found)


def circuit_cells(report: CircuitReport) -> tuple[tuple[str, str], ...]:
    """Write a circuit before and after as a row of a table.

    Source: the plan.
    """
    headings = (
        "current [A]",
        "at the lamps [V]",
        "lost on the way [V]",
        "light that costs",
        "fuse that carries it [A]",
        "fuse fitted [A]",
    )
    fuse = report.circuit.fuse
    fitted = "none known" if fuse is None else f"{fuse:g}"
    if report.change is None:
        return tuple(zip(headings, ("", "", "", "", "", fitted), strict=True))
    c = report.change
    pairs = [f"{values[0]:.2f} → {values[1]:.2f}" for values in (c.current, c.voltage, c.drop)]
    pairs.append(f"{100 * c.light_lost[0].max():.0f} % → {100 * c.light_lost[1].max():.0f} %")
    carries = f"{c.fuse[0]:g}" if c.fuse[0] == c.fuse[1] else f"{c.fuse[0]:g} → {c.fuse[1]:g}"
    return tuple(zip(headings, (*pairs, carries, fitted), strict=True))


def circuit_words(report: CircuitReport) -> tuple[str, ...]:
    """Say what a circuit's numbers mean, without those that stand in the table.

    Source: as for lampkit.electrics.report.
    """
    in_table = ("circuit.load", "circuit.drop")
    told = [words for words in report.words if not (isinstance(words, Statement) and words.key in in_table)]
    return (*(str(words) for words in told), *(f"Cure: {words}" for words in report.cures))


def ballast_words(plan: Plan) -> tuple[str, ...]:
    """Say how hot the ballast resistors become that are to be fitted.

    Source: as for lampkit.ballast.dissipation and lampkit.ballast.case_rise.
    """
    said = []
    for part, number in plan.choice.parts:
        if part.kind != "ballast resistor" or not part.resistance or number <= 0:
            continue
        lit, flashing = (
            float(ballast_resistor.dissipation(part.resistance, plan.vehicle.running_voltage, duty=d))
            for d in (1.0, ballast_resistor.USUAL_DUTY)
        )
        rises = ballast_resistor.case_rise(np.array([flashing, lit]))
        said.append(
            f"{part.name}: {lit:.0f} W while lit, {flashing:.0f} W on average when flashing. Its case becomes "
            f"{rises.loose[0]:.0f} K hotter than the air hanging loose and {rises.on_plate[0]:.0f} K on a metal plate; "
            f"should the flasher lock on, {rises.loose[1]:.0f} K and {rises.on_plate[1]:.0f} K. Screw it to metal."
        )
    return tuple(said)


def timing_cells(timing: LampTiming) -> tuple[tuple[str, str], ...]:
    """Write rise, reaction and flash of a lamp as a row of a table.

    Source: as for lampkit.timing.assess.
    """
    flashes = bool(np.isfinite(timing.flash_share))
    gained = "" if flashes else f"{1000 * timing.gained[0]:.0f} to {1000 * timing.gained[2]:.0f}"
    way = [
        "" if flashes else f"{numbers.figure(float(span[0]))} to {numbers.figure(float(span[2]))}"
        for span in np.asarray(timing.distance)
    ]
    return (
        (
            "filament to 90 % [ms]",
            f"{1000 * timing.rise[1]:.0f} ({1000 * timing.rise[0]:.0f} to {1000 * timing.rise[2]:.0f})",
        ),
        ("LED [ms]", "below 1"),
        ("reaction sooner [ms]", gained),
        (f"at {SPEEDS[0]:.0f} km/h [m]", way[0]),
        (f"at {SPEEDS[1]:.0f} km/h [m]", way[1]),
        ("flash, filament → LED [1]", f"{timing.flash_share:.2f} → {timing.led_flash_share:.2f}" if flashes else ""),
    )


def timings(plan: Plan) -> tuple[tuple[str, LampTiming], ...]:
    """List the lamps that have a timing, those that are alike together.

    Source: the plan.
    """
    return tuple((a.name, plan.timings[lamp.name]) for lamp, a in alike(plan) if lamp.name in plan.timings)


def earth_words(plan: Plan) -> tuple[str, ...]:
    """Say what depends on the polarity of a positive earth, and what does not.

    Source: data/circuit/polarity.csv, each row with its own source.
    """
    if plan.vehicle.earth != "positive":
        return ()
    by_kind: dict[earth.PolarityBound, list[str]] = {}
    for part in earth.parts():
        by_kind.setdefault(part.polarity_bound, []).append(part.part)
    differ = by_kind.get(earth.PolarityBound.SOURCES_DIFFER)
    return (
        f"Bound to polarity: {', '.join(by_kind[earth.PolarityBound.YES])}.",
        f"Not bound: {', '.join(by_kind[earth.PolarityBound.NO])}.",
        *([f"Sources differ: {', '.join(differ)}."] if differ else []),
        str(earth.coil_leads("positive").said),
    )


def earth_order(plan: Plan) -> tuple[tuple[str, str], ...]:
    """List the steps of changing the earth, for a vehicle with positive earth.

    Source: as for lampkit.polarity.order_of_work.
    """
    return tuple((step.what, step.why) for step in earth.order_of_work()) if plan.vehicle.earth == "positive" else ()


def earth_cautions(plan: Plan) -> tuple[str, ...]:
    """List the cautions of changing the earth, each once.

    Source: data/circuit/cautions.csv.
    """
    if plan.vehicle.earth != "positive":
        return ()
    steps = earth.order_of_work()[:8]  # the later steps try the lamps, for which the checklist stands
    return tuple(dict.fromkeys(words for step in steps for words in step.cautions))
