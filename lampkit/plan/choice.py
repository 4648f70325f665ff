"""The choice of parts for a vehicle: what to fit in each lamp, what keeps its filament and why, and what to buy."""

from collections import Counter
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import numbers, show
from lampkit.conversion.assessment import Assessment
from lampkit.conversion.wanted import Wanted
from lampkit.errors import InputError, nearest
from lampkit.plan import advice, decisions, selection, socket_voltages, suitability
from lampkit.plan.advice import WISHED, Wishes
from lampkit.plan.decisions import Problem, Solution
from lampkit.plan.suitability import Family, Refusals
from lampkit.statements import Statement, say
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import CircuitPart, Offer

if TYPE_CHECKING:
    import pandas as pd

AIMS = ("least cost", "most light")

STOP_OVER_TAIL = 5.0
"""How many times the tail lamp's light a stop lamp is to give where the rules print no number [1].
Source: UN R148, 4.8.11."""


class Article(NamedTuple):
    """One line of what to buy: how many, and for how much each and together; nan where nobody told."""

    name: str
    number: int
    price: float
    total: float


@dataclass(frozen=True, eq=False)
class Choice:
    """What to fit in each lamp, what else that needs, and what spoke for and against it.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    wishes : Wishes
        What was asked for.
    chosen : mapping of str to Offer or None
        The light source for each lamp; None where the filament lamp stays.
    parts : tuple of (Part, int)
        The other parts and their number.
    cost : float [currency]
        What everything costs.
    currency : str
        Currency of all prices.
    kept : mapping of str to Statement
        For each lamp that keeps its filament the reason.
    refused : mapping of str to mapping
        For each lamp the candidates that will not do, each with the family of every reason and the reason.
    fitted : tuple of Statement
        Where each of the other parts goes.
    binding : tuple of Statement
        What each requirement costs, or which lamp it keeps; those that change nothing are left out.
    runner_up : Statement or None
        What nearly won; None where nothing else will do.
    look_for : mapping of str to Statement
        What to look for, for each lamp that nothing on offer fits.
    notes : tuple of Statement
        What else to know before buying.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> made = lk.plan.make(van, draws=200)
    >>> made.choice.chosen["Stop lamp left"] is made.fitted("Stop lamp left")
    True
    >>> made.choice.shopping_list().columns.tolist()
    ['article', 'number', 'price each [EUR]', 'total [EUR]']
    """

    vehicle: Vehicle = field(repr=False)
    wishes: Wishes
    chosen: Mapping[str, Offer | None]
    parts: tuple[tuple[CircuitPart, int], ...]
    cost: float
    currency: str
    kept: Mapping[str, Statement]
    refused: Mapping[str, Mapping[str, Refusals]]
    fitted: tuple[Statement, ...]
    binding: tuple[Statement, ...]
    runner_up: Statement | None
    look_for: Mapping[str, Statement]
    notes: tuple[Statement, ...]

    def articles(self) -> list[Article]:
        """List what to buy, article by article."""
        counts: Counter[str] = Counter()
        prices: dict[str, float] = {}
        along = sharing.comes_along(self.vehicle.lamps)
        for i, lamp in enumerate(self.vehicle.lamps):
            offer = self.chosen[lamp.name]
            if offer is not None and offer is not lamp.fitted and i not in along:
                article = offer.dim_level_of or offer.name
                counts[article] += lamp.quantity
                prices[article] = _known(suitability.article_price(offer, self.vehicle.offers))
        for part, number in self.parts:
            counts[part.name] += number
            prices[part.name] = _known(part.price)
        return [Article(name, n, prices[name], n * prices[name]) for name, n in counts.items()]

    def unpriced(self) -> list[str]:
        """Name the articles to buy that have no price, so that they are no part of the cost."""
        return [one.name for one in self.articles() if np.isnan(one.price)]

    def shopping_list(self) -> "pd.DataFrame":
        """List what to buy, and the total."""
        import pandas as pd

        unit, bought = f" [{self.currency}]" if self.currency else "", self.articles()
        total = "Total of what has a price" if self.unpriced() else "Total"
        rows = [*bought, Article(total, sum(one.number for one in bought), float("nan"), self.cost)]
        return pd.DataFrame(rows, columns=["article", "number", f"price each{unit}", f"total{unit}"])

    def table(self) -> "pd.DataFrame":
        """List what each lamp gets."""
        import pandas as pd

        return pd.DataFrame(
            {
                "lamp": name,
                "fit": "the filament lamp stays" if offer is None else offer.name,
                "why": str(self.kept.get(name, "")),
            }
            for name, offer in self.chosen.items()
        )

    def _repr_html_(self) -> str:
        said = [*self.fitted, *self.binding, self.runner_up, *_by_statement(self.look_for), *self.notes]
        bought = show.written(self.shopping_list(), [str(line) for line in said if line])
        return f"{bought}<details><summary>What each lamp gets</summary>{show.written(self.table())}</details>"

    def __str__(self) -> str:
        lines = [f"{self.vehicle.name}: {self.wishes.aim}, {numbers.money(self.cost, self.currency)} in all"]
        lines[0] += " for what has a price" if self.unpriced() else ""
        for name, offer in self.chosen.items():
            lines.append(f"  {name}: {offer.name if offer else 'the filament lamp stays'}")
        said = [*_by_statement(self.kept), *self.fitted, *self.binding, self.runner_up]
        said += [*_by_statement(self.look_for), *self.notes]
        return "\n".join([*lines, *(f"  - {line}" for line in said if line)])

    __repr__ = __str__


def _by_statement(said: Mapping[str, Statement]) -> list[str]:
    """Say once what holds for several lamps."""
    names: dict[str, list[str]] = {}
    for name, sentence in said.items():
        names.setdefault(str(sentence), []).append(name)
    return [f"{numbers.listed(lamps)}. {sentence}" for sentence, lamps in names.items()]


def choose(
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    *,
    assurance: float | None = None,
    colour_share: float | None = None,
    stop_over_tail: float | None = None,
    aim: str | None = None,
    budget: float | None = None,
    intensities: Mapping[str, Sequence[NDArray[np.float64]]] | None = None,
    picked: Mapping[str, Offer | None] | None = None,
) -> Choice:
    """Choose what to fit in every lamp of a vehicle, so that all of it works together.

    As few lamps as possible keep their filaments; among the ways to do that the cheapest is taken, or the one with
    the most light.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    assessments : sequence of Assessment
        Its lamps, in the order of the vehicle, each with its candidates in their order.
    assurance : float, optional [1]
        Wanted probability of at least the filament's light, and of the stop lamp's multiple of the tail lamp's; what
        the vehicle's owner asks when left out, as the next three.
    colour_share : float, optional [1]
        Wanted share of lenses and emitters with the colour inside its limit.
    stop_over_tail : float, optional [1]
        How many times the tail lamp's light the stop lamp is to give; what the rules in force print when not asked.
    aim : {'least cost', 'most light'}, optional
        What to seek. Light beyond `selection.LIGHT_CAP` times the filament's counts for no more than that.
    budget : float, optional [currency]
        The most that everything may cost; that of the vehicle file when left out.
    intensities : mapping of str to sequence of ndarray, shape (n,), optional [cd]
        Predicted intensities on the axis draw by draw, one array for each candidate, for lamps that were measured.
    picked : mapping of str to Offer or None, optional
        What was picked by hand, by lamp: a candidate, or None for the filament lamp. Whether a pick is bright enough,
        of the right colour or within the budget is not asked for; what cannot be fitted stays out all the same.

    Returns
    -------
    Choice
        The choice, with its reasons.

    Raises
    ------
    InputError
        The aim is unknown, a number is out of range, the assessments do not belong to the lamps, or a pick is not on
        offer.

    Examples
    --------
    With a small budget more lamps keep their filaments.

    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> made = lk.plan.make(van, draws=200)
    >>> poor = lk.plan.choose(van, made.assessments, budget=5.0)
    >>> len(poor.kept) > len(made.choice.kept), poor.cost <= 5.0
    (True, True)

    Source: scipy.optimize.milp; the requirements as `suitability` and `selection` state them.
    """
    asked = vehicle.asked
    budget = vehicle.budget if budget is None else budget
    assurance = asked.assurance if assurance is None else assurance
    colour_share = asked.colour_share if colour_share is None else colour_share
    stop_over_tail = asked.stop_over_tail if stop_over_tail is None else stop_over_tail
    aim = asked.aim if aim is None else aim
    pairs = sharing.outshining(vehicle.lamps, vehicle.held_to.name)
    if stop_over_tail is None:
        stop_over_tail = next((pair.limit.low for pair in pairs if pair.limit is not None), STOP_OVER_TAIL)
    wishes = Wishes(aim, assurance, colour_share, stop_over_tail, budget, vehicle.currency)
    by_hand = picked or {}
    _check(vehicle, assessments, wishes, intensities or {}, by_hand)
    vehicle, assessments = _with_picks(vehicle, assessments, by_hand)
    measured = {name: found for name, found in (intensities or {}).items() if name not in by_hand}
    own = [
        list(suitability.single(vehicle, lamp, found, measured.get(lamp.name), *least))
        for lamp, found in zip(vehicle.lamps, assessments, strict=True)
        for least in [(0.0, 0.0) if lamp.name in by_hand else (assurance, colour_share)]
    ]
    candela = [
        suitability.candela(lamp, found, measured.get(lamp.name))
        for lamp, found in zip(vehicle.lamps, assessments, strict=True)
    ]

    @cache
    def chance(stop: int, tail: int, pick: int | None, other: int | None) -> float:
        """Give how sure a stop lamp's multiple of a tail lamp's light is; of what was picked by hand nobody asks."""
        if {vehicle.lamps[stop].name, vehicle.lamps[tail].name} & by_hand.keys():
            return 1.0
        both = assessments[stop], assessments[tail]
        return suitability.chance_over_tail(*both, pick, other, wishes.stop_over_tail, (candela[stop], candela[tail]))

    _refuse_levels(vehicle, assessments, own, chance, wishes)
    problem = selection.problem(
        vehicle,
        own,
        [[float(result.ratio[1]) for result in found.results] for found in assessments],
        lambda a, b, c, d: suitability.short_of(chance(a, b, c, d), assurance),
        None if by_hand else budget,
    )
    best = decisions.solve(problem, aim)
    if best is None:
        raise InputError("no choice of parts will do, not even the filament lamps", key="budget")
    refused = suitability.derived(vehicle, own)
    others = {
        family: decisions.solve(problem, aim, without=frozenset([family]))
        for family in WISHED
        if any(row.family == family for row in problem.rows)
        or any(family in families for families in problem.families.values())
    }
    # What was picked by hand is not weighed against anything else.
    second = None if by_hand else decisions.solve(problem, aim, other_than=best)
    lamps = vehicle.lamps
    kept = {
        lamp.name: say("kept.by_hand", back=lamp.fitted is not None)
        if by_hand.get(lamp.name, best) is None
        else advice.kept(
            lamp,
            assessments[i],
            refused[i],
            *_what_keeps(problem, wishes, best, others, i, lamps, refused[i]),
            wishes,
            _filaments_multiple(pairs, assessments, i, stop_over_tail),
        )
        for i, lamp in enumerate(lamps)
        if best.picks[i] is None
    }
    bound = [advice.binding(f, vehicle, wishes, best, other) for f, other in others.items() if other is not None]
    counted: Counter[CircuitPart] = Counter()
    for (_, _, part), number in best.parts.items():
        counted[part] += number
    notes = advice.notes(vehicle, assessments, wishes, best, _other_cure(problem, best, aim))
    return Choice(
        vehicle=vehicle,
        wishes=wishes,
        chosen={
            lamp.name: None if pick is None else lamp.candidates[pick]
            for lamp, pick in zip(lamps, best.picks, strict=True)
        },
        parts=tuple(counted.items()),
        cost=best.cost,
        currency=vehicle.currency,
        kept=kept,
        refused={
            lamp.name: {
                offer.name: against for offer, against in zip(lamp.candidates, refused[i], strict=True) if against
            }
            for i, lamp in enumerate(lamps)
        },
        fitted=advice.fitting(vehicle, best),
        binding=() if by_hand else tuple(said for said in bound if said is not None),
        runner_up=None if second is None else advice.runner_up(vehicle, wishes, best, second),
        look_for={
            lamps[i].name: told
            for i, told in _sought(vehicle, assessments, refused, best, wishes, kept).items()
            if lamps[i].name not in by_hand
        },
        notes=(*((say("notes.by_hand"),) if by_hand else ()), *notes),
    )


def _sought(
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    refused: Sequence[Sequence[Refusals]],
    best: Solution,
    wishes: Wishes,
    kept: Mapping[str, Statement],
) -> dict[int, Statement]:
    """Say what to look for, for each lamp that nothing on offer fits or that its tail lamp holds back."""
    found: dict[int, Statement] = {}
    known: dict[Hashable, Wanted] = {}
    for i, lamp in enumerate(vehicle.lamps):
        if best.picks[i] is not None or socket_voltages.excites(lamp):
            continue
        if all(refused[i]):
            found[i] = advice.look_for(vehicle, assessments, refused, best.picks, i, wishes, known)
        elif kept[lamp.name].values.get("family") is Family.STOP_OVER_TAIL:
            told = advice.dimmer_tail(vehicle, assessments, refused, i, wishes)
            if told is not None:
                found[i] = told
    return found


def _check(
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    wishes: Wishes,
    intensities: Mapping[str, Sequence[NDArray[np.float64]]],
    picked: Mapping[str, Offer | None],
) -> None:
    if wishes.aim not in AIMS:
        raise InputError(f"the aim '{wishes.aim}' is unknown", key="aim", expected=nearest(wishes.aim, AIMS))
    for key, value in (("assurance", wishes.assurance), ("colour_share", wishes.colour_share)):
        if not 0 <= value <= 1:
            raise InputError(f"{value:g} is no probability", key=key, expected="0 to 1")
    if not 0 < wishes.stop_over_tail < np.inf:
        raise InputError(f"{wishes.stop_over_tail:g} times cannot be", key="stop_over_tail", expected="above zero")
    if wishes.budget is not None and not 0 <= wishes.budget < np.inf:
        raise InputError(f"a budget of {wishes.budget:g} cannot be", key="budget", expected="zero or more")
    if len(assessments) != len(vehicle.lamps):
        raise InputError(
            f"{len(assessments)} assessments for {len(vehicle.lamps)} lamps", key="assessments", expected="one a lamp"
        )
    for lamp, found in zip(vehicle.lamps, assessments, strict=True):
        if [result.source.name for result in found.results] != [offer.name for offer in lamp.candidates]:
            raise InputError(
                f"the assessment '{found.name}' is not one of the candidates of {lamp.name}",
                key="assessments",
                expected="the candidates of each lamp, in their order",
            )
    names = [lamp.name for lamp in vehicle.lamps]
    for key, told in (("intensities", intensities), ("picked", picked)):
        for name in told:
            if name not in names:
                raise InputError(f"there is no lamp '{name}'", key=key, expected=nearest(name, names))
    for name, arrays in intensities.items():
        owner = names.index(name)
        if [np.shape(a) for a in arrays] != [(len(assessments[owner].garage),)] * len(vehicle.lamps[owner].candidates):
            raise InputError(
                f"the intensities of '{name}' do not fit its candidates and draws",
                key="intensities",
                expected="for each candidate one array with a number for each draw",
            )


def _with_picks(
    vehicle: Vehicle, assessments: Sequence[Assessment], picked: Mapping[str, Offer | None]
) -> tuple[Vehicle, tuple[Assessment, ...]]:
    """Leave for a lamp that was picked by hand nothing but the pick."""
    lamps, left = [], []
    for lamp, found in zip(vehicle.lamps, assessments, strict=True):
        held = list(range(len(lamp.candidates)))
        if lamp.name in picked:
            offer = picked[lamp.name]
            held = [i for i in held if lamp.candidates[i] is offer]
            if offer is not None and not held:
                raise InputError(
                    f"'{offer.name}' is not on offer for {lamp.name}",
                    key="picked",
                    expected=nearest(offer.name, [one.name for one in lamp.candidates]),
                )
        lamps.append(replace(lamp, candidates=tuple(lamp.candidates[i] for i in held)))
        left.append(replace(found, results=tuple(found.results[i] for i in held)))
    return replace(vehicle, lamps=tuple(lamps)), tuple(left)


def _refuse_levels(
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    own: Sequence[list[Refusals]],
    chance: Callable[[int, int, int | None, int | None], float],
    wishes: Wishes,
) -> None:
    """Refuse a dim level that its own bright level does not outshine enough."""
    shared = set(sharing.holders(vehicle.lamps))
    for stop, tail, _ in sharing.outshining(vehicle.lamps, vehicle.held_to.name):
        if (stop, tail) not in shared:
            continue
        brights = {offer.name: c for c, offer in enumerate(vehicle.lamps[stop].candidates)}
        for d, dim in enumerate(vehicle.lamps[tail].candidates):
            if dim.dim_level_of in brights:
                sure, times = chance(stop, tail, brights[dim.dim_level_of], d), wishes.stop_over_tail
                if suitability.short_of(sure, wishes.assurance):
                    multiple = suitability.filaments_multiple(assessments[stop], assessments[tail], times)
                    level = say("refused.level", times=times, filaments=multiple, chance=sure)
                    own[tail][d][Family.STOP_OVER_TAIL] = level


def _what_keeps(
    problem: Problem,
    wishes: Wishes,
    best: Solution,
    others: Mapping[Family, Solution | None],
    place: int,
    lamps: Sequence[Lamp],
    refused: Sequence[Refusals],
) -> tuple[Family | None, Sequence[str]]:
    """Find the requirement that keeps a filament that could go, or the lamps that would keep theirs instead."""
    if all(refused):
        return None, ()
    # What ties lamps together is the nearer reason; a weaker light beside it only makes room.
    families = sorted(others, key=lambda family: family in (Family.LIGHT, Family.COLOUR, Family.INTENSITY))
    for family in families:
        other = others[family]
        if other is not None and other.picks[place] is not None and other.kept < best.kept:
            return family, ()
    stays = problem.keep[place]
    instead = decisions.solve(problem, wishes.aim, never=[stays])
    if instead is not None:
        return None, advice.freed(lamps, instead, best)
    for family in families:
        if decisions.solve(problem, wishes.aim, without=frozenset([family]), never=[stays]) is not None:
            return family, ()
    return None, ()


def _known(price: float | None) -> float:
    return float("nan") if price is None else price


def _filaments_multiple(
    pairs: Sequence[sharing.Outshining], assessments: Sequence[Assessment], place: int, times: float
) -> float | None:
    for pair in pairs:
        if place in (pair.bright, pair.dim):
            return suitability.filaments_multiple(assessments[pair.bright], assessments[pair.dim], times)
    return None


def _other_cure(problem: Problem, best: Solution, aim: str) -> Solution | None:
    """Find the choice with ballast resistors where it has another flasher, or the reverse."""
    used = {part.kind for _, _, part in best.parts} & {"load-independent flasher", "ballast resistor"}
    if not used:
        return None
    places = [place for (_, _, part), place in problem.parts.items() if part.kind in used]
    return decisions.solve(problem, aim, never=places)
