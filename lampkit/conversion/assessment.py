"""One lamp: the filament it had, the light sources on offer, and the lens between them and the road."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from html import escape
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, numbers, show
from lampkit.errors import InputError
from lampkit.grid import Floats
from lampkit.lenses import coloured_lens
from lampkit.lenses.coloured_lens import Lens, transmittances
from lampkit.light import behind_lens, colorimetry, photometry
from lampkit.rules import colours, functions, rule_sets
from lampkit.sources import heat, light_source
from lampkit.sources.light_source import DOUBTED, Claim, LightSource
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Draws

if TYPE_CHECKING:
    import pandas as pd


ASSURANCE = 0.90
"""Probability with which the lumens to buy give at least the filament's light [1]."""

NO_LIGHT = 1e-9
"""Luminous transmittance below which a lens is said to let no light of a source through [1].
Source: an assumption; a spectrum that is nothing there by its formula still leaves a trace in the arithmetic."""

TELL_TALE_LEAST = 0.5
"""Times the filament's light that a tell-tale needs [1]. Source: an assumption."""


class Ground(Enum):
    """Where the ratio of light of a light source comes from."""

    PREDICTED = "predicted"
    READ = "read"
    READ_ON_TWIN = "read_on_twin"


@dataclass(frozen=True, eq=False)
class Result:
    """What one light source gives behind the lens; intervals are lower limit, median and upper limit of 95 %.

    Parameters
    ----------
    source : LightSource
        The light source.
    luminous_transmittance : ndarray, shape (3,) [1]
        Share of its light that the lens passes.
    flux_through : ndarray, shape (3,) [lm]
        Luminous flux behind the lens.
    k : ndarray, shape (3,) [1]
        Its luminous transmittance over that of the filament, through the same lens.
    ratio : ndarray, shape (3,) [1]
        Its flux behind the lens over that of the filament.
    probability : float [1]
        Probability of at least the filament's light.
    chance : float [1]
        Probability of at least the filament's light, for a tell-tale of half of it, and of a colour inside the limit,
        both at once.
    lumens_to_buy : float [lm]
        Claimed lumens that give at least the filament's light with the assurance that was asked for.
    chromaticity : ndarray, shape (2,) [1]
        x and y behind the lens, for the typical source and lens.
    colour : ColourPlace or None
        Where that lies against the published colour limit; None where none was asked for.
    share_inside : float [1]
        Share of lenses and emitters for which it lies inside; nan where no limit was asked for.
    why : Statement
        The reason for K.
    claim : Claim
        What the claimed lumens mean against the electrical watts.
    claim_statement : Statement or None
        The same with its numbers; None where no watts are known.
    spectrum_before : ndarray, shape (471,) [W/nm]
        Typical spectrum before the lens, as warm as in use.
    spectrum_through : ndarray, shape (471,) [W/nm]
        The same behind the lens.
    draws : mapping of str to ndarray, shape (n,) [1]
        The draws: 'transmittance', 'k', 'ratio', 'flux' [lm], 'box', the lumens claimed [lm], 'x', 'y', and 'read over
        used', the ratio that a meter reads of a lamp which burns steadily over that in use.
    other_limit : ColourRegion or None
        Another accepted colour against which it was held, where a clear lens lets it show one.
    ground : Ground
        Whether the ratio was predicted, or read in this lamp or its twin; one that was read holds towards the meter.

    Examples
    --------
    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=200)
    >>> behind = job.results[0]
    >>> bool(behind.ratio[0] < behind.ratio[1] < behind.ratio[2]), len(behind.draws["ratio"])
    (True, 200)
    >>> print(behind.claim)
    Claim.UNCHECKED
    """

    source: LightSource
    luminous_transmittance: NDArray[np.float64]
    flux_through: NDArray[np.float64]
    k: NDArray[np.float64]
    ratio: NDArray[np.float64]
    probability: float
    chance: float
    lumens_to_buy: float
    chromaticity: NDArray[np.float64]
    colour: "colours.ColourPlace | None"
    share_inside: float
    why: Statement
    claim: Claim
    claim_statement: Statement | None
    spectrum_before: NDArray[np.float64]
    spectrum_through: NDArray[np.float64]
    draws: Mapping[str, NDArray[np.float64]] = field(repr=False)
    other_limit: "colours.ColourRegion | None" = None
    ground: Ground = Ground.PREDICTED


@dataclass(frozen=True, eq=False)
class Assessment:
    """Every light source on offer for one lamp, against the filament it had.

    Parameters
    ----------
    name : str
        The lamp.
    lens : Lens
        Its lens.
    function : str or None
        Its function, as in 'stop'; None where no published limit applies.
    rules : str or None
        Whose published limits it was held against.
    colour_limit : ColourRegion or None
        The published colour limit.
    old : Result
        The filament lamp.
    results : tuple of Result
        The candidates, in the order given.
    garage : Draws
        The draws, with their weights and seed.
    assurance : float [1]
        Probability with which the lumens to buy give at least the filament's light.

    Examples
    --------
    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=200)
    >>> job.table()["light source"].tolist()
    ['P21W', 'red LED']
    """

    name: str
    lens: Lens
    function: str | None
    rules: str | None
    colour_limit: "colours.ColourRegion | None"
    old: Result
    results: tuple[Result, ...]
    garage: Draws
    assurance: float = ASSURANCE

    def table(self) -> "pd.DataFrame":
        """List the filament and every candidate."""
        import pandas as pd

        return pd.DataFrame(
            {
                "light source": r.source.name,
                "claimed lumens [lm]": round(r.source.luminous_flux),
                "transmittance [1]": numbers.figure(r.luminous_transmittance[1]),
                "through the lens [lm]": numbers.figure(r.flux_through[1]),
                "K [1]": numbers.figure(r.k[1]),
                "light against filament [1]": numbers.interval(r.ratio) if r is not self.old else "1",
                "lumens to buy [lm]": numbers.rounded_up(r.lumens_to_buy) if r is not self.old else "",
                "x": f"{r.chromaticity[0]:.3f}",
                "y": f"{r.chromaticity[1]:.3f}",
                "colour": "no limit asked for" if r.colour is None else str(r.colour.statement),
                "share inside": "" if np.isnan(r.share_inside) else numbers.chance(r.share_inside),
            }
            for r in (self.old, *self.results)
        )

    def _repr_html_(self) -> str:
        from lampkit.conversion import answer

        first = f"<p><b>{escape(numbers.together(answer.answer(self).sentence))}</b></p>" if self.results else ""
        # A claim that may be true needs no words.
        words = [
            f"{r.source.name}: {r.why}" + (f" {r.claim_statement}" if r.claim in DOUBTED else "")
            for r in (self.old, *self.results)
        ]
        shown = self.table().drop(columns=["x", "y"])
        return first + show.written(shown.rename(columns={"share inside": "share inside the limit"}), words)

    def __str__(self) -> str:
        from lampkit.conversion import answer

        return answer.text(self)

    __repr__ = __str__


def assess(
    old: LightSource,
    candidates: Sequence[LightSource],
    lens: Lens,
    *,
    function: str | None = None,
    rules: str | None = rule_sets.USUAL,
    draws: int = 4000,
    seed: int = 1,
    garage: Draws | None = None,
    name: str = "lamp",
    duty: float | None = None,
    light_shares: Mapping[str, ArrayLike] = MappingProxyType({}),
    progress: bool = False,
    assurance: float = ASSURANCE,
) -> Assessment:
    """Predict light and colour behind a lens, for the filament and for every candidate.

    Parameters
    ----------
    old : LightSource
        The filament lamp that the vehicle came with.
    candidates : sequence of LightSource
        The light sources on offer.
    lens : Lens
        The lens between them and the road.
    function : str, optional
        The lamp's function, as in 'stop'; without it no published limit is applied.
    rules : str, optional
        Whose published colour limits, as in lampkit.rules.rule_set: 'UN', 'US' and so on; None for none.
    draws : int [1]
        How many possible garages are drawn.
    seed : int [1]
        The seed; the same seed gives the same numbers.
    garage : Draws, optional
        Draws that already know something, for example from readings; what they do not hold is drawn beside them.
    name : str
        The lamp, for headings.
    duty : float, optional [1]
        Share of the time for which it is lit once it is warm; half for a function that flashes, else all.
    light_shares : mapping of str to array_like, shape () or (draws,) [1]
        By the name of a light source its light at the voltage of its socket over that at the voltage of its claim.
    progress : bool
        Whether a bar tells how far it is; of use from some hundred thousand draws on.
    assurance : float [1]
        Probability with which the lumens to buy give at least the filament's light.

    Returns
    -------
    Assessment
        The results.

    Raises
    ------
    InputError
        Two light sources share a name, the number of draws is below one, the function or the rules are unknown, or the
        lens lets no light of a source through.

    Examples
    --------
    Behind a red lens a lumen of red light passes far better than a lumen of a filament.

    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=200)
    >>> bool(job.results[0].k[0] > 1)
    True

    Source: CIE S 017:2020 for luminous transmittance; JCGM 101:2008 for the intervals.
    """
    every = (old, *candidates)
    names = [source.name for source in every] + [lens.name]
    twice = sorted(n for n, times in Counter(names).items() if times > 1)
    if twice:
        raise InputError(f"'{twice[0]}' names two things", key=name, expected="one name for each source and lens")
    beliefs = {lens.name: lens.beliefs, **{source.name: source.beliefs for source in every}}
    if duty is None:
        duty = heat.FLASHING if function is not None and functions.function(function).flashes else 1.0
    if garage is None:
        garage = sampling.draw(beliefs, draws, seed)
        known = lens
    else:
        known = _as_learnt(lens, garage)
        garage = sampling.completed(garage, beliefs)
    typical = {s.name: light_source.warm_spectrum(s, duty=duty) for s in every}
    limit = colours.limit_for(function, rules, lens.colour)
    tell_tale = is_tell_tale(function)
    band = coloured_lens.passband(known)
    within = ((band[0] <= grid.WAVELENGTHS) & (band[1] >= grid.WAVELENGTHS)).astype(float)
    passed = photometry.transmittance_table([lens.transmittance, within], list(typical.values()))
    typical_tau, share_within = (dict(zip(typical, shares.tolist(), strict=True)) for shares in passed)
    owned: dict[str, dict[str, NDArray[np.float64]]] = {}
    for (owner, quantity), values in garage.values.items():
        owned.setdefault(owner, {})[quantity] = values
    behind = behind_lens.behind_lens(
        {s.name: (s.model, light_source.as_lit(s, owned[s.name], duty)) for s in every},
        (lens.model, owned[lens.name]),
        len(garage),
        progress=progress,
    )

    def result(source: LightSource, reference: Mapping[str, Floats] | None) -> Result:
        x, tau, y = behind[source.name]
        if typical_tau[source.name] < NO_LIGHT or np.any(tau <= 0):
            raise InputError(
                f"'{lens.name}' lets no light of '{source.name}' through",
                key=name,
                remedy="take it off the candidates, or check the curves that were read from files",
            )
        own = owned[source.name]
        steady = light_source.true_flux(source, own)
        used = steady if duty == 1.0 else light_source.true_flux(source, own, duty=duty)
        flux = used * tau
        if source.name in light_shares:
            flux *= np.asarray(light_shares[source.name], dtype=float)
        alike = np.broadcast_to(1.0, tau.shape)
        k = alike if reference is None else tau / reference["transmittance"]
        ratio = alike if reference is None else flux / reference["flux"]
        # In the place of X and Z: new memory for very many garages would cost as much as their spectra.
        y += x
        y += tau
        x /= y
        np.divide(tau, y, out=y)
        typical_xy = colorimetry.chromaticity(lens.transmittance * typical[source.name])
        weights = garage.weights
        claimed = np.broadcast_to(source.luminous_flux, tau.shape)
        box = claimed if reference is None else light_source.claim_for(source, own)
        claim, claim_statement = light_source.check_claim(source)
        good = ratio >= (TELL_TALE_LEAST if tell_tale else 1.0)
        other = colours.limit_of_light(function, rules, lens.colour, typical_xy)
        held_to = other or limit
        kept = np.ones(ratio.shape, bool) if held_to is None else colours.inside(held_to, behind[source.name][::2].T)
        enough, chance, inside = (sampling.share(held, weights) for held in (ratio >= 1.0, good & kept, kept))
        tail = 0.5 * (1.0 - sampling.COVERAGE)
        limits = sampling.quantiles([tau, flux, k, ratio, box / ratio], [tail, 0.5, 1.0 - tail, assurance], weights)
        return Result(
            source=source,
            luminous_transmittance=limits[0, :3],
            flux_through=limits[1, :3],
            k=limits[2, :3],
            ratio=limits[3, :3],
            probability=float(enough),
            chance=float(chance),
            lumens_to_buy=float(limits[4, 3]),
            chromaticity=typical_xy,
            colour=None if held_to is None else colours.colour_place(held_to, typical_xy),
            share_inside=float("nan") if held_to is None else float(inside),
            other_limit=other,
            why=_why(source, old, lens, band, share_within),
            claim=claim,
            claim_statement=claim_statement,
            spectrum_before=typical[source.name],
            spectrum_through=lens.transmittance * typical[source.name],
            draws={
                "transmittance": tau,
                "k": k,
                "ratio": ratio,
                "flux": flux,
                "box": box,
                "x": x,
                "y": y,
                "read over used": alike if used is steady else steady / used,
            },
        )

    before = result(old, None)
    return Assessment(
        name=name,
        lens=lens,
        function=function,
        rules=rules if limit is not None else None,
        colour_limit=limit,
        old=before,
        results=tuple(result(source, before.draws) for source in candidates),
        garage=garage,
        assurance=assurance,
    )


def with_ratio(
    assessment: Assessment,
    result: Result,
    ratio: NDArray[np.float64],
    ground: Ground,
    *,
    k: NDArray[np.float64] | None = None,
) -> Result:
    """Give a result with a ratio that was read in place of the predicted one, and with the chances that follow.

    Source: JCGM 101:2008 for the interval.
    """
    weights = assessment.garage.weights
    good = ratio >= (TELL_TALE_LEAST if is_tell_tale(assessment.function) else 1.0)
    held_to = result.other_limit or assessment.colour_limit
    if held_to is not None:
        good = good & colours.inside(held_to, np.stack([result.draws["x"], result.draws["y"]], axis=-1))
    lens = result.draws["k"] if k is None else k
    return replace(
        result,
        # One reading has one interval: by the order of its draws, as `measurement.compare_readings` gives it.
        ratio=sampling.interval_by_order(ratio),
        k=result.k if k is None else sampling.interval(k),
        probability=float(sampling.share(ratio >= 1.0, weights)),
        chance=float(sampling.share(good, weights)),
        lumens_to_buy=float(sampling.quantile(result.draws["box"] / ratio, assessment.assurance, weights)),
        draws={**result.draws, "ratio": ratio, "k": lens},
        ground=ground,
    )


def _as_learnt(lens: Lens, garage: Draws) -> Lens:
    """Give a lens with the middle of what a garage holds of it for what is typical, as it is where that is nothing."""
    held = {name: values for (owner, name), values in garage.values.items() if owner == lens.name}
    if {belief.name for belief in lens.beliefs} - set(held):
        return lens
    middle = {name: np.atleast_1d(sampling.quantile(v, 0.5, garage.weights)) for name, v in held.items()}
    return replace(lens, transmittance=transmittances(lens, middle)[0])


def is_tell_tale(function: str | None) -> bool:
    """Tell whether a function is that of a tell-tale."""
    return function is not None and functions.function(function).tell_tale


def _why(
    source: LightSource,
    old: LightSource,
    lens: Lens,
    band: tuple[float, float],
    share_within: Mapping[str, float],
) -> Statement:
    if lens.colour == "clear":
        return say("why.clear")
    share, share_old = share_within[source.name], share_within[old.name]
    if band[1] >= 780.0:
        where = say("why.beyond_edge", colour=lens.colour, edge=band[0])
    else:
        where = say("why.in_band", colour=lens.colour, low=band[0], high=band[1])
    if source is old:
        return say("why.filament", share=share, where=where)
    return say("why.share", share=share, where=where, share_old=share_old)
