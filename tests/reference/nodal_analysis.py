"""A solver of circuits that knows nothing of the kit: nodes, branches, Newton's method on the sum of currents."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

EARTH = "earth"
"""The node against which volts are counted: the earth post of the battery."""

Law = Callable[[float], float]
"""Amperes of a branch at the volts from its first node to its second."""


def resistor(ohms: float) -> Law:
    """Ohm's law."""
    return lambda volts: volts / ohms


def filament(watts: float, at: float) -> Law:
    """The power law of a hot filament, I = I0 (V/V0)^0.55, straight at the very start."""
    rated, knee = watts / at, 1e-4
    first = rated * knee**0.55

    def law(volts: float) -> float:
        share = abs(volts) / at
        return float(np.sign(volts) * (first * share / knee if share < knee else rated * share**0.55))

    return law


def led(watts: float, at: float, begins: float, *, bridge: bool = False, held_from: float | None = None) -> Law:
    """LED dies: nothing up to a voltage, then a straight line, with a regulator up to where it holds the current."""
    rated = watts / at
    slope = rated / ((at if held_from is None else held_from) - begins)

    def law(volts: float) -> float:
        size = abs(volts) if bridge else volts
        drawn = max(size - begins, 0.0) * slope
        return float(np.sign(volts) * (drawn if held_from is None else min(drawn, rated)))

    return law


def _newton(wrong_at: Callable[[np.ndarray], np.ndarray], volts: np.ndarray) -> np.ndarray:
    """Find where the currents add up to nothing, by Newton's method with shortened steps."""
    for _ in range(200):
        wrong = wrong_at(volts)
        if np.max(np.abs(wrong), initial=0.0) < 1e-10:
            break
        slopes = np.empty((len(volts), len(volts)))
        for j in range(len(volts)):
            step = np.zeros(len(volts))
            step[j] = 1e-6
            slopes[:, j] = (wrong_at(volts + step) - wrong_at(volts - step)) / 2e-6
        move = np.linalg.lstsq(slopes, -wrong, rcond=1e-18)[0]
        move *= min(1.0, 2.0 / max(np.max(np.abs(move)), 1e-12))
        part = 1.0
        while part > 1e-4 and np.linalg.norm(wrong_at(volts + part * move)) > np.linalg.norm(wrong):
            part /= 2.0
        volts = volts + part * move
    return volts


@dataclass
class Circuit:
    """Branches between named nodes, and nodes that are held at a voltage."""

    held: dict[str, float]
    branches: dict[str, tuple[str, str, Law]] = field(default_factory=dict)

    def join(self, name: str, start: str, end: str, law: Law) -> None:
        """Put a branch between two nodes."""
        self.branches[name] = (start, end, law)

    def solve(self) -> "Solved":
        """Find the volts of every node: the currents of each that is not held add up to nothing."""
        nodes = sorted({node for a, b, _ in self.branches.values() for node in (a, b)} - {EARTH, *self.held})
        known = {EARTH: 0.0, **self.held}
        volts = np.zeros(len(nodes))

        def of(at: np.ndarray, node: str) -> float:
            return known[node] if node in known else float(at[nodes.index(node)])

        def left_over(at: np.ndarray) -> np.ndarray:
            out = 1e-12 * at  # what floats is at earth
            for a, b, law in self.branches.values():
                current = law(of(at, a) - of(at, b))
                for node, sign in ((a, 1.0), (b, -1.0)):
                    if node in nodes:
                        out[nodes.index(node)] += sign * current
            return out

        # Every node is first tied to where it is, and let go step by step.
        for tie in (1.0, 1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-8, 0.0):
            volts = _newton(lambda at, tie=tie, before=volts: left_over(at) + tie * (at - before), volts)
        assert np.max(np.abs(left_over(volts)), initial=0.0) < 1e-7, "the currents do not balance"
        return Solved(self, {**known, **dict(zip(nodes, volts.tolist(), strict=True))})


@dataclass
class Solved:
    """A circuit with the volts of its nodes, to be read with a meter."""

    circuit: Circuit
    nodes: dict[str, float]

    def volts(self, node: str, other: str = EARTH) -> float:
        """Read the volts between two nodes."""
        return self.nodes[node] - self.nodes[other]

    def amperes(self, branch: str) -> float:
        """Read the amperes of a branch."""
        a, b, law = self.circuit.branches[branch]
        return law(self.volts(a, b))
