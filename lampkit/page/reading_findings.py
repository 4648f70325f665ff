"""What is shown of readings, gathered once: ratios with what makes them uncertain, predictions, lenses, remarks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lampkit.measurement import lens_identification
from lampkit.measurement.fair_ratio import Comparison, FairRatio
from lampkit.measurement.lens_identification import LEARNT, spread_left
from lampkit.plan.agreement import Confrontation, Finding, LensKnowledge
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.uncertainty.budget import Budget

MATTERS = 0.05
"""Share of the whole uncertainty from which a cause has a row of its own [1]. Source: own judgement."""


@dataclass(frozen=True)
class Cause:
    """What makes a ratio uncertain: its relative standard uncertainty and its share of the variance [1]."""

    name: str
    uncertainty: float
    share: float


@dataclass(frozen=True, eq=False)
class RatioFindings:
    """A measured ratio, what makes it uncertain, and its prediction where there is one."""

    ratio: FairRatio
    causes: tuple[Cause, ...]
    whole: float
    finding: Finding | None

    @property
    def words(self) -> Statement:
        """Write the ratio with its interval, and say so where it has no upper limit."""
        return ratio_words(self.ratio.ratio)


@dataclass(frozen=True)
class CauseRow:
    """One cause, and what it contributes to each of several ratios [1]."""

    name: Statement
    uncertainties: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class Learnt:
    """What readings taught about one quantity of a lens: lower limit, median and upper limit before and after."""

    quantity: str
    unit: str
    before: NDArray[np.float64]
    after: NDArray[np.float64]
    spread_left: float

    @property
    def learnt(self) -> bool:
        """Tell whether enough of the spread went."""
        return self.spread_left < LEARNT


@dataclass(frozen=True, eq=False)
class LensFindings:
    """What was learnt of a lens, what it makes of the light sources, and what to read next."""

    known: LensKnowledge
    quantities: tuple[Learnt, ...]
    sentences: tuple[Statement, ...]

    @property
    def name(self) -> str:
        """Name the lens."""
        return self.known.knowledge.lens.name


@dataclass(frozen=True, eq=False)
class ReadingFindings:
    """What text, page and plain data show of readings.

    Parameters
    ----------
    found : Comparison or Confrontation
        What the readings were made into.
    seed : int or None [1]
        The seed of the draws; None where nothing was compared.
    beside : bool
        Whether the readings stand beside a prediction.
    ratios : tuple of RatioFindings
        The ratios, with their predictions.
    lenses : tuple of LensFindings
        What was learnt of each lens.
    remarks : tuple
        What was mended, assumed or left out.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = str(lk.tables.folder() / "library_van" / "readings.csv")
    >>> found = lk.page.findings_of_readings(lk.measurement.compare_readings(log, draws=200))
    >>> found.ratios[0].ratio.new, found.beside
    ('red LED A', False)
    """

    found: Comparison | Confrontation
    seed: int | None
    beside: bool
    ratios: tuple[RatioFindings, ...]
    lenses: tuple[LensFindings, ...]
    remarks: tuple[object, ...]

    @property
    def how_to_read(self) -> Statement:
        """Say in words what the first ratio is."""
        limits = [one.ratio.ratio for one in self.ratios if not one.ratio.unbounded]
        return say("page.readings.how_to_read", ratio=[*limits, np.array([0.7, 0.8, 1.0])][0])

    @property
    def findings(self) -> tuple[Finding, ...]:
        """List the ratios that have a prediction."""
        return tuple(one.finding for one in self.ratios if one.finding is not None)


def findings_of_readings(found: Comparison | Confrontation) -> ReadingFindings:
    """Gather what is shown of readings.

    Parameters
    ----------
    found : Comparison or Confrontation
        What the log says by itself, or beside the prediction for its vehicle.

    Returns
    -------
    ReadingFindings
        What the readings say, each asked once.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = str(lk.tables.folder() / "library_van" / "readings.csv")
    >>> found = lk.page.findings_of_readings(lk.measurement.compare_readings(log, draws=200))
    >>> sum(cause.share for cause in found.ratios[0].causes) > 0.999
    True
    """
    beside = found if isinstance(found, Confrontation) else None
    comparison = found.comparison if isinstance(found, Confrontation) else found
    ratios = () if comparison is None else comparison.ratios
    predicted = {id(f.ratio): f for f in (() if beside is None else beside.findings)}
    return ReadingFindings(
        found=found,
        seed=None if comparison is None else comparison.seed,
        beside=beside is not None,
        ratios=tuple(
            RatioFindings(r, causes(r.budget), whole_uncertainty(r.budget), predicted.get(id(r))) for r in ratios
        ),
        lenses=tuple(_lens(known) for known in (() if beside is None else beside.lenses)),
        remarks=tuple(found.remarks),
    )


def ratio_words(ratio: NDArray[np.float64]) -> Statement:
    """Write a ratio with its interval, and say so where it has no upper limit."""
    if np.isfinite(ratio[2]):
        return say("page.ratio.closed", ratio=ratio)
    return say("page.ratio.open", low=float(ratio[0]))


ROUNDING = 1e-20
"""Share of a variance that only rounding leaves [1]: the square of a part in 1e10."""


def causes(table: Budget) -> tuple[Cause, ...]:
    """Take the inputs of a budget together by what they are, the greatest contribution first."""
    squares = table.by_cause()
    total = sum(squares.values()) or 1.0
    scale = abs(table.value) or 1.0
    # A cause that cancels leaves what the arithmetic rounds, which is another number with every library.
    squares = {cause: square if square > ROUNDING * total else 0.0 for cause, square in squares.items()}
    ordered = sorted(squares.items(), key=lambda item: -item[1])
    return tuple(Cause(cause, float(np.sqrt(square)) / scale, square / total) for cause, square in ordered)


def whole_uncertainty(table: Budget) -> float:
    """Give the standard uncertainty of a ratio over the ratio [1]."""
    return abs(table.standard_uncertainty / (table.value or 1.0))


def cause_rows(ratios: Sequence[RatioFindings]) -> list[CauseRow]:
    """List causes that matter to a ratio in two digits, the others together."""
    found = [{cause.name: cause.uncertainty for cause in one.causes} for one in ratios]
    names = dict.fromkeys(cause for one in found for cause in one)
    matter = [
        n for n in names if any(one.get(n, 0.0) > MATTERS * r.whole for one, r in zip(found, ratios, strict=True))
    ]
    matter.sort(key=lambda n: -max(one.get(n, 0.0) for one in found))
    rest = [sum(v**2 for n, v in one.items() if n not in matter) ** 0.5 for one in found]
    rows = [CauseRow(say("page.cause.named", name=n), tuple(one.get(n, 0.0) for one in found)) for n in matter]
    rows.append(CauseRow(say("page.cause.smaller"), tuple(rest)))
    return [*rows, CauseRow(say("page.cause.together"), tuple(one.whole for one in ratios))]


def _lens(known: LensKnowledge) -> LensFindings:
    knowledge = known.knowledge
    owner = knowledge.lens.name
    quantities = tuple(
        Learnt(
            quantity=belief.name,
            unit=belief.unit,
            before=sampling.interval(knowledge.before.values[owner, belief.name]),
            after=sampling.interval(knowledge.garage.values[owner, belief.name], knowledge.garage.weights),
            spread_left=spread_left(knowledge, owner, belief.name),
        )
        for belief in knowledge.lens.beliefs
        if belief.spread > 0 and belief.shape != "fixed"
    )
    said: list[Statement] = [
        say("page.lens.learnt", quantity=q.quantity, unit=q.unit, before=q.before, after=q.after, left=q.spread_left)
        for q in quantities
        if q.learnt
    ]
    said += knowledge.remarks
    said += [say("page.lens.now", name=r.source.name, ratio=r.ratio) for r in known.assessment.results]
    if quantities:
        probes = {s.name: s for s in (*knowledge.sources, *(r.source for r in known.assessment.results))}
        best = max(
            lens_identification.ranked(knowledge, list(probes.values())),
            key=lambda row: float(row["information [bit]"]),
        )
        said.append(say("page.lens.next", name=best["probe"], information=float(best["information [bit]"])))
    return LensFindings(known, quantities, tuple(said))
