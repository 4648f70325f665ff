"""One lamp: the filament it had, the light sources on offer, the lens between them and the road, and what to fit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, show
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import Lens, transmittances
from lampkit.light import colorimetry, photometry
from lampkit.rules import colours, rule_sets
from lampkit.sources import light_source
from lampkit.sources.light_source import LEDS, LightSource, SourceKind
from lampkit.statements import named
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Draws

if TYPE_CHECKING:
    import pandas as pd


ASSURANCE = 0.90
"""Probability with which the lumens to buy give at least the filament's light [1]."""

BELIEVABLE_POWER_SHARE = 0.6
"""Radiated over electrical power above which a claim for a small LED light source is doubted [1].
Source: an assumption; laboratory emitters reach more, a small light source in a closed lamp does not."""

NO_LIGHT = 1e-9
"""Luminous transmittance below which a lens is said to let no light of a source through [1].
Source: an assumption; a spectrum that is nothing there by its formula still leaves a trace in the arithmetic."""

TRUE_OVER_CLAIMED = "true over claimed lumens"


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
    lumens_to_buy : float [lm]
        Claimed lumens that give at least the filament's light with 90 % assurance.
    chromaticity : ndarray, shape (2,) [1]
        x and y behind the lens, for the typical source and lens.
    verdict : str
        Where that lies against the published colour limit; empty where none was asked for.
    share_inside : float [1]
        Share of lenses and emitters for which it lies inside; nan where no limit was asked for.
    why : str
        The reason for K, in words.
    claim : str
        What the claimed lumens mean against the electrical watts; empty where no watts are known.
    claim_verdict : str
        'possible', 'not believable' or 'impossible'; empty where no watts are known.
    spectrum_through : ndarray, shape (471,) [W/nm]
        Typical spectrum behind the lens.
    draws : mapping of str to ndarray, shape (n,) [1]
        The draws: 'transmittance', 'k', 'ratio', 'flux' [lm], 'x', 'y'.
    """

    source: LightSource
    luminous_transmittance: NDArray[np.float64]
    flux_through: NDArray[np.float64]
    k: NDArray[np.float64]
    ratio: NDArray[np.float64]
    probability: float
    lumens_to_buy: float
    chromaticity: NDArray[np.float64]
    verdict: str
    share_inside: float
    why: str
    claim: str
    claim_verdict: str
    spectrum_through: NDArray[np.float64]
    draws: Mapping[str, NDArray[np.float64]] = field(repr=False)


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
    """

    name: str
    lens: Lens
    function: str | None
    rules: str | None
    colour_limit: "colours.ColourRegion | None"
    old: Result
    results: tuple[Result, ...]
    garage: Draws

    def table(self) -> "pd.DataFrame":
        """List the filament and every candidate."""
        import pandas as pd

        return pd.DataFrame(
            {
                "light source": r.source.name,
                "claimed lumens [lm]": round(r.source.luminous_flux),
                "transmittance [1]": figure(r.luminous_transmittance[1]),
                "through the lens [lm]": figure(r.flux_through[1]),
                "K [1]": figure(r.k[1]),
                "light against filament [1]": with_interval(r.ratio) if r is not self.old else "1",
                "lumens to buy [lm]": figure(r.lumens_to_buy) if r is not self.old else "",
                "x": f"{r.chromaticity[0]:.3f}",
                "y": f"{r.chromaticity[1]:.3f}",
                "colour": r.verdict or "no limit asked for",
                "share inside": "" if np.isnan(r.share_inside) else f"{100 * r.share_inside:.0f} %",
            }
            for r in (self.old, *self.results)
        )

    def _repr_html_(self) -> str:
        # A claim that may be true needs no words.
        words = [
            f"{r.source.name}: {r.why}" + (f" {r.claim}" if r.claim_verdict not in ("", "possible") else "")
            for r in (self.old, *self.results)
        ]
        shown = self.table().drop(columns=["x", "y"])
        return show.written(shown.rename(columns={"share inside": "share inside the limit"}), words)

    def __str__(self) -> str:
        lines = [f"{self.name}: {self.lens.name}"]
        lines += [f"  {r.source.name}: {with_interval(r.ratio)} of the filament's light. {r.why}" for r in self.results]
        return "\n".join(lines)

    __repr__ = __str__


def figure(value: float, digits: int = 2) -> str:
    """Write a number to the digits that are known, without an exponent.

    Source: JCGM 100:2008, 7.2.6: uncertainties are quoted to two digits at most.
    """
    if not np.isfinite(value):
        return "unbounded" if np.isinf(value) else ""
    if value == 0:
        return "0"
    decimals = digits - 1 - int(np.floor(np.log10(abs(value))))
    rounded = round(float(value), decimals)
    # 9.96 becomes 10, not 10.0.
    decimals = digits - 1 - int(np.floor(np.log10(abs(rounded))))
    return f"{rounded:.{max(decimals, 0)}f}"


def with_interval(limits: ArrayLike) -> str:
    """Write an interval with its middle, all to the same last digit.

    Source: JCGM 100:2008, 7.2.6.
    """
    low, middle, high = np.asarray(limits, dtype=float)
    width = max(high - low, 1e-9)
    decimals = max(0, 1 - int(np.floor(np.log10(width)))) if np.isfinite(width) else 2
    # Two digits of the middle are known at most, however narrow the interval.
    decimals = min(decimals, max(2, 1 - int(np.floor(np.log10(max(abs(middle), 1e-9))))))
    return f"{middle:.{decimals}f} ({low:.{decimals}f} to {high:.{decimals}f})"


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

    Returns
    -------
    Assessment
        The results.

    Raises
    ------
    InputError
        Two light sources share a name, the number of draws is below one, the function or the rules are unknown, or the
        lens lets no light of a source through.

    Source: CIE S 017:2020 for luminous transmittance; JCGM 101:2008 for the intervals.
    """
    every = (old, *candidates)
    names = [source.name for source in every] + [lens.name]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        raise InputError(f"'{twice[0]}' names two things", key=name, expected="one name for each source and lens")
    beliefs = {lens.name: lens.beliefs, **{source.name: source.beliefs for source in every}}
    if garage is None:
        garage = sampling.draw(beliefs, draws, seed)
        spectra = {source.name: _prior_spectra(source, draws, seed) for source in every}
    else:
        garage = _completed(garage, beliefs)
        spectra = {s.name: light_source.relative_spectra(s, garage.of(s.name)) for s in every}
    limit = _colour_limit(function, rules, lens)
    through_lens = transmittances(lens, garage.of(lens.name))
    typical_tau = {s.name: float(photometry.luminous_transmittance(lens.transmittance, s.spectrum)) for s in every}
    band = _passband(lens)

    def result(source: LightSource, reference: Mapping[str, NDArray[np.float64]] | None) -> Result:
        xyz = _tristimulus_through(through_lens, spectra[source.name])
        tau = photometry.K_M * xyz[:, 1]
        if typical_tau[source.name] < NO_LIGHT or np.any(tau <= 0):
            raise InputError(
                f"'{lens.name}' lets no light of '{source.name}' through",
                key=name,
                remedy="take it off the candidates, or check the curves that were read from files",
            )
        true_flux = source.luminous_flux * garage.of(source.name)[TRUE_OVER_CLAIMED]
        flux = true_flux * tau
        base_tau, base_flux = (tau, flux) if reference is None else (reference["transmittance"], reference["flux"])
        xy = colorimetry.chromaticity_of(xyz)
        typical_xy = colorimetry.chromaticity(lens.transmittance * source.spectrum)
        ratio = flux / base_flux
        weights = garage.weights
        claim_verdict, claim = _check_claim(source)
        return Result(
            source=source,
            luminous_transmittance=sampling.interval(tau, weights),
            flux_through=sampling.interval(flux, weights),
            k=sampling.interval(tau / base_tau, weights),
            ratio=sampling.interval(ratio, weights),
            probability=float(sampling.share(ratio >= 1.0, weights)),
            lumens_to_buy=float(sampling.quantile(source.luminous_flux / ratio, ASSURANCE, weights)),
            chromaticity=typical_xy,
            verdict="" if limit is None else str(colours.colour_place(limit, typical_xy).statement),
            share_inside=float("nan") if limit is None else float(colours.share_inside(limit, xy, weights)),
            why=_why(source, old, lens, band, typical_tau),
            claim=claim,
            claim_verdict=claim_verdict,
            spectrum_through=lens.transmittance * source.spectrum,
            draws={
                "transmittance": tau,
                "k": tau / base_tau,
                "ratio": ratio,
                "flux": flux,
                "x": xy[:, 0],
                "y": xy[:, 1],
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
    )


@lru_cache(maxsize=8)
def _prior_spectra(source: LightSource, draws: int, seed: int) -> NDArray[np.float64]:
    """Spectra of one lumen each; a vehicle asks for the same source behind many lenses."""
    drawn = sampling.draw({source.name: source.beliefs}, draws, seed)
    return light_source.relative_spectra(source, drawn.of(source.name))


def _tristimulus_through(transmittance: NDArray[np.float64], spectra: NDArray[np.float64]) -> NDArray[np.float64]:
    # Row blocks keep the product of both in the processor's cache: twice as fast as one large temporary.
    bars = colorimetry.colour_matching_functions() * grid.WEIGHTS[:, np.newaxis]
    result = np.empty((len(spectra), 3))
    for start in range(0, len(spectra), 256):
        block = slice(start, start + 256)
        result[block] = (transmittance[block] * spectra[block]) @ bars
    return result


def _completed(garage: Draws, beliefs: Mapping[str, Sequence[sampling.Belief]]) -> Draws:
    missing = {owner: [b for b in listed if (owner, b.name) not in garage.values] for owner, listed in beliefs.items()}
    fresh = sampling.draw(missing, len(garage), garage.seed)
    return Draws(
        values={**garage.values, **fresh.values},
        weights=garage.weights,
        beliefs={**garage.beliefs, **fresh.beliefs},
        seed=garage.seed,
    )


def _colour_limit(function: str | None, rules: str | None, lens: Lens) -> "colours.ColourRegion | None":
    """Take the accepted colour that the lens is made for; where it is made for none of them, the usual one."""
    if function is None or rules is None:
        return None
    required = colours.required_colour(function, rules)
    wanted = colours.standard_colour(lens.colour)
    by_colour = {region.colour: region for region in required.regions}
    return by_colour.get(wanted, required.regions[0] if required.regions else None)


def _passband(lens: Lens) -> tuple[float, float]:
    """The wavelengths round the brightest that pass at least half as well; a blue lens passes far red besides."""
    through = lens.transmittance * photometry.luminous_efficiency()
    brightest = int(np.argmax(through))
    # The edge of a red or amber lens is where it passes half of its plateau.
    full = lens.transmittance.max() if lens.colour in ("red", "amber") else lens.transmittance[brightest]
    shut = np.flatnonzero(lens.transmittance < 0.5 * full)
    below, above = shut[shut < brightest], shut[shut > brightest]
    first = below[-1] + 1 if below.size else 0
    last = above[0] - 1 if above.size else grid.WAVELENGTHS.size - 1
    return float(grid.WAVELENGTHS[first]), float(grid.WAVELENGTHS[last])


def _share_in_band(source: LightSource, band: tuple[float, float]) -> float:
    inside = (band[0] <= grid.WAVELENGTHS) & (band[1] >= grid.WAVELENGTHS)
    return float(photometry.luminous_transmittance(inside.astype(float), source.spectrum))


def _why(source: LightSource, old: LightSource, lens: Lens, band: tuple[float, float], tau: Mapping[str, float]) -> str:
    if lens.colour == "clear":
        return "A clear lens passes every colour nearly alike: the lumens and where they go decide."
    share, share_old = _share_in_band(source, band), _share_in_band(old, band)
    if band[1] >= 780.0:
        where = f"beyond the edge of the {lens.colour} lens at {band[0]:.0f} nm"
    else:
        where = f"where the {lens.colour} lens passes light, {band[0]:.0f} nm to {band[1]:.0f} nm"
    own = f"{_percent(share)} of its light {where}"
    if source is old:
        return f"The filament has {own}: the lens takes the rest."
    change = tau[source.name] / tau[old.name]
    effect = (
        f"each lumen gives {figure(change)} times the filament's light behind this lens"
        if not 0.95 <= change <= 1.05
        else "lumen for lumen it does as well as the filament behind this lens"
    )
    what = f"This {named(source.kind)}" if source.kind in LEDS else f"The light of {source.name}"
    return f"{what} has {own}, the filament {_percent(share_old)}: {effect}."


def _percent(share: float) -> str:
    return "less than 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def _check_claim(source: LightSource) -> tuple[str, str]:
    """Hold claimed lumens over electrical watts against the luminous efficacy of radiation of the spectrum."""
    if source.kind is SourceKind.FILAMENT or not source.electrical_power:
        return "", ""
    efficacy = source.luminous_flux / source.electrical_power
    radiation = float(photometry.efficacy_of_radiation(source.spectrum))
    share = efficacy / radiation
    stated = (
        f"{source.luminous_flux:.0f} lm from {source.electrical_power:g} W is {efficacy:.0f} lm/W; light of this "
        f"spectrum carries {radiation:.0f} lm for each watt radiated (360-830 nm)"
    )
    if share > 1.0:
        most = radiation * source.electrical_power
        return "impossible", f"Impossible: {stated}, so even without any loss it could not exceed {most:.0f} lm."
    if share > BELIEVABLE_POWER_SHARE:
        words = f"Not believable: {stated}, so {100 * share:.0f} % of the power would have to leave as light."
        return "not believable", words
    return "possible", f"Possible: {stated}, so {100 * share:.0f} % of the power would leave as light."


SURE = 0.90
"""Chance from which a light source is suggested without more ado [1]."""

LIKELY = 0.50
"""Chance below which the filament stays [1]."""


@dataclass(frozen=True, eq=False)
class Suggestion:
    """What to do with one lamp, and how sure that is.

    Parameters
    ----------
    result : Result or None
        The best light source on offer; None where none is fit to be suggested.
    chance : float [1]
        Probability that it gives at least the filament's light, with its colour inside the limit where there is one.
    verdict : str
        'fit', 'fit, then measure' or 'keep the filament'.
    sentence : str
        The same in a sentence, with the numbers.
    """

    result: Result | None
    chance: float
    verdict: str
    sentence: str


def chance(assessment: Assessment, result: Result) -> float:
    """Give the probability of at least the filament's light and of a colour inside the limit, both at once.

    Source: JCGM 101:2008, 7.
    """
    good = result.draws["ratio"] >= 1.0
    if assessment.colour_limit is not None:
        xy = np.stack([result.draws["x"], result.draws["y"]], axis=-1)
        good = good & colours.inside(assessment.colour_limit, xy)
    return float(sampling.share(good, assessment.garage.weights))


def suggest(assessment: Assessment) -> Suggestion:
    """Choose among the candidates of one lamp.

    A candidate is passed over when its typical colour is outside the limit, or when its claim is impossible. Of those
    left, the one with the greatest chance wins; between equal chances, to a percent, the one that gives less light,
    because more than is needed dazzles.

    Parameters
    ----------
    assessment : Assessment
        The lamp.

    Returns
    -------
    Suggestion
        The choice.
    """
    if not assessment.results:
        return Suggestion(None, 0.0, "keep the filament", "Keep the filament: nothing is on offer for this lamp.")
    limit = assessment.colour_limit
    possible = [r for r in assessment.results if r.claim_verdict != "impossible"]
    inside = [r for r in possible if limit is None or bool(colours.inside(limit, r.chromaticity))]
    if not inside:
        wrong = (
            f"has a colour inside {limit.name}" if limit is not None and possible else "has a claim that is possible"
        )
        return Suggestion(None, 0.0, "keep the filament", f"Keep the filament: nothing on offer {wrong}.")
    chances = [round(chance(assessment, r), 2) for r in inside]
    best = max(chances)
    # Where all are sure the dimmest is enough; where none has a chance the brightest comes nearest.
    equal = sorted((r for r, c in zip(inside, chances, strict=True) if c == best), key=lambda r: float(r.ratio[1]))
    result = equal[0] if best > 0 else equal[-1]
    verdict, sentence = in_words(assessment, result, best)
    passed_over = [r.source.name for r in assessment.results if r not in possible]
    if passed_over:
        sentence += f" Passed over, for a claim that is impossible: {', '.join(passed_over)}."
    return Suggestion(result, best, verdict, sentence)


def in_words(assessment: Assessment, result: Result, probability: float) -> tuple[str, str]:
    """Say what to do with a candidate of which it is known how sure it is.

    Source: the kit's own wording.
    """
    name, limit = result.source.name, assessment.colour_limit
    light = f"{with_interval(result.ratio)} times the filament's light"
    wanted = "at least the filament's light"
    if limit is not None:
        wanted += f" in a colour inside {limit.name}"
    chances = f"the chance of {wanted} is {odds(probability)}"
    if probability >= SURE:
        return "fit", f"Fit {name}: {light}; {chances}."
    if probability >= LIKELY:
        return "fit, then measure", f"Fit {name}, then measure: the best on offer with {light}, but {chances}."
    sentence = f"Keep the filament: the best on offer, {name}, gives {light}, and {chances}."
    if np.isfinite(result.lumens_to_buy) and result.lumens_to_buy > result.source.luminous_flux:
        sentence += f" Look for one of its kind with at least {figure(result.lumens_to_buy)} lm on the box."
    return "keep the filament", sentence


def odds(probability: float) -> str:
    """Write a chance as percent, without claiming that anything is certain."""
    if probability < 0.01:
        return "below 1 %"
    return "above 99 %" if probability > 0.99 else f"{100 * probability:.0f} %"
