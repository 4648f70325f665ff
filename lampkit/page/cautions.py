"""The cautions of a job sheet: the usual ones for the whole vehicle, and those that one lamp calls for."""

from lampkit import numbers
from lampkit.conversion import DOUBTED, Assessment, Suggestion
from lampkit.rules import functions
from lampkit.vehicle.vehicle import Lamp, Vehicle

DAZZLE = 2.0
"""Light against the filament's from which a lamp is called bright [1]. Source: own judgement."""

APPROVAL = (
    "A lamp is approved together with the kind of light source that it was made for: another kind can end that "
    "approval, whatever this sheet says about light and colour. What you may drive with is for the rules where the "
    "vehicle is registered and used, and for a licensed tester: ask before you fit anything."
)
"""What stands at the head of every job sheet. Source: the approval marks of UN R37 and UN R128 light sources."""


def general(vehicle: Vehicle) -> tuple[tuple[str, str], ...]:
    """List the cautions for work on a vehicle's lamps.

    Source: common practice, no source.
    """
    return (
        (
            "Colour and glare.",
            "A signal of the wrong colour is misread, and one with too much light dazzles, most of all at night and in "
            "fog. A stop lamp must stay plainly brighter than the tail lamp beside it.",
        ),
        (
            "Eyes.",
            "Never look into a bare LED or along the axis of a lit lamp from close by, and never at the blue ones for "
            "long. Look at the patch of light on a white card instead.",
        ),
        (
            "Heat.",
            "A ballast resistor that stands in for a filament gives off the same heat: it burns skin and melts plastic "
            "and wire. Screw it to bare metal, away from wiring, trim and fuel lines, or use a flasher that does not "
            "need the load. Let filament lamps cool before you touch them.",
        ),
        (
            "Battery.",
            f"Before you touch the wiring, take off rings and watches and disconnect the battery, the earthed "
            f"({vehicle.earth}) terminal first; connect it last. The gas over a battery explodes: no sparks, no flame, "
            "eyes covered. Keep a fuse in every circuit that you try out.",
        ),
        (
            "Charge-warning lamp.",
            "Leave its filament where it is until you know what it does: its current starts the charging of many "
            "alternators, and an LED in its place can leave the battery without charge.",
        ),
        (
            "Measuring.",
            "Measure in a yard or a garage, never on a road, with the wheels chocked and nobody between the lamps and "
            "a wall. If the engine runs, do it in the open: exhaust gas kills indoors.",
        ),
        (
            "Before you drive.",
            "Have someone watch every lamp from outside: tail and stop together, each turn signal with the tail lamps "
            "on, the rate of the flasher, and that nothing glows that is switched off.",
        ),
    )


def of_lamp(
    lamp: Lamp, assessment: Assessment, suggestion: Suggestion, vehicle: Vehicle
) -> tuple[tuple[str, str], ...]:
    """List the cautions that one lamp calls for.

    Source: common practice, no source.
    """
    found: list[tuple[str, str]] = []
    if lamp.road_rule:
        found.append(
            (
                "Approval.",
                "Another kind of light source can end this lamp's approval: ask a licensed tester first.",
            )
        )
    past = [r.source.name for r in assessment.results if r.colour is not None and not r.colour.inside]
    if past:
        found.append(
            (
                "Wrong colour.",
                f"Do not fit {numbers.listed(past, 'or')}: the colour behind this lens is outside the limit.",
            )
        )
    chosen = suggestion.result
    if chosen is not None and chosen.ratio[1] >= DAZZLE:
        found.append(
            (
                "Much light.",
                "This is at least twice the filament's light: it may dazzle"
                + (", and may be past the published maximum. Measure it." if lamp.road_rule else " at night."),
            )
        )
    if functions.function(lamp.function).flashes:
        found.append(
            (
                "Flasher.",
                "An LED draws little current: the flasher may flash fast, or not at all. A ballast resistor that cures "
                "it gets hot; a flasher that needs no load is better.",
            )
        )
    if any(word in lamp.name.lower() for word in ("charge", "charging", "ignition", "dynamo", "generator")):
        found.append(("Charging.", "This lamp may be part of the charging circuit: leave its filament until you know."))
    doubtful = [r for r in assessment.results if r.claim in DOUBTED]
    found += [("Claim.", f"{r.source.name}. {r.claim_statement}") for r in doubtful]
    if vehicle.earth == "positive":
        bound = [offer.name for offer in lamp.candidates if not offer.either_polarity]
        if bound:
            found.append(
                (
                    "Polarity.",
                    f"The vehicle has positive earth; {numbers.listed(bound, 'or')} may not light the wrong way round.",
                )
            )
    return tuple(found)
