"""Walks through an order of work and finds what comes too early or too late."""

from collections.abc import Iterable, Sequence

from lampkit.circuits.tasks import Step, WorkState


def obstacles(
    steps: Sequence[Step], at_first: Iterable[WorkState] = (WorkState.BATTERY_CONNECTED,)
) -> list[tuple[Step, WorkState]]:
    """Each step that comes when something is not true that it needs, or still true that it must not meet."""
    true, found = set(at_first), []
    for step in steps:
        found += [(step, state) for state, holds in step.before if (state in true) is not holds]
        for state, holds in step.after:
            (true.add if holds else true.discard)(state)
    return found
