"""What every light source is: a claimed flux against its watts, a typical spectrum, and what is believed of both."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid
from lampkit.errors import InputError
from lampkit.grid import CurveModel, Values
from lampkit.light import measured_curves, photometry
from lampkit.sources import heat
from lampkit.statements import Statement, named, say
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Belief

TRUE_OVER_CLAIMED = "true over claimed lumens"
"""Name of the belief about the flux, which every light source has."""

BEAM_RATIO = "beam ratio"
"""Name of the belief about candela for each lumen, new over old."""

BLACKENING = "light past the blackened bulb"
"""Name of the belief about what an old filament lamp has lost."""


class SourceKind(Enum):
    """What makes the light."""

    FILAMENT = "filament"
    WHITE_LED = "white_led"
    COLOURED_LED = "coloured_led"
    MEASURED = "measured"


LEDS = frozenset({SourceKind.WHITE_LED, SourceKind.COLOURED_LED})
"""Kinds of which it is known that they are LEDs."""


@dataclass(frozen=True, eq=False)
class LightSource:
    """A light source as it is sold: its claimed flux, its typical spectrum, and what is believed about both.

    Parameters
    ----------
    name : str
        How it is called in tables; also the owner of its draws.
    kind : SourceKind
        What makes the light; a measured spectrum may be of anything.
    luminous_flux : float [lm]
        The rating of a filament lamp moved to `voltage`, or the claim on the box.
    spectrum : ndarray, shape (471,) [W/nm]
        The typical spectral radiant flux of an LED that is cold, or of a filament lamp that is new, carrying
        `luminous_flux`.
    model : callable
        Turns named spectral parameters, each of shape (...), into relative spectra of shape (..., 471).
    beliefs : tuple of Belief
        The parameters of the model, and 'true over claimed lumens'.
    electrical_power : float [W]
        At `voltage`; None when not known.
    voltage : float [V]
        What flux and power refer to; None for an LED of unknown voltage.
    rating : mapping
        The row of data/lamps/ratings.csv that a filament lamp was made from; None for anything else.
    layout : str
        'all-round' or 'forward': where the light goes before reflector and lens.
    notes : tuple of str
        What the user should know about the numbers.
    base : str
        The base that it stands on; None when not known.
    steady_rise : float [K]
        How much warmer than the air its watts would make it; None for a filament lamp, or when not known.
    beam : Belief
        Candela towards the road for each lumen, over that of the filament, where the user knows it; else None.
    claimed : bool
        Whether somebody tells the lumens; else they follow from the watts, within a wide interval.

    Examples
    --------
    >>> import lampkit as lk
    >>> red = lk.sources.coloured_led("red", luminous_flux=110)
    >>> round(float(lk.light.luminous_flux(red.spectrum)))
    110
    """

    name: str
    kind: SourceKind
    luminous_flux: float
    spectrum: NDArray[np.float64]
    model: CurveModel
    beliefs: tuple[Belief, ...]
    electrical_power: float | None = None
    voltage: float | None = None
    rating: Mapping[str, Any] | None = None
    layout: str | None = None
    notes: tuple[str, ...] = ()
    base: str | None = None
    steady_rise: float | None = None
    beam: Belief | None = None
    claimed: bool = True

    def __repr__(self) -> str:
        power = f", {self.electrical_power:.3g} W" if self.electrical_power else ""
        volts = f" at {self.voltage:g} V" if self.voltage else ""
        return f"{self.name}: {named(self.kind)}, {self.luminous_flux:.4g} lm{power}{volts}"

    def _repr_html_(self) -> str:
        return sampling.card(repr(self), self.spectrum / self.spectrum.max(), self.beliefs, self.notes)


def relative_spectra(
    source: LightSource, values: Values, *, duty: float = 1.0, part: slice = grid.WHOLE
) -> NDArray[np.float64]:
    """Give the spectra of a light source for drawn values, warm, one lumen each; `duty` is the share of the time lit.

    Source: CIE 018:2019 for the flux.
    """
    return photometry.to_flux(spectra_of(source, values, duty=duty, part=part), 1.0, part=part)


def spectra_of(
    source: LightSource, values: Values, *, duty: float = 1.0, part: slice = grid.WHOLE
) -> NDArray[np.float64]:
    """Give the same spectra on any scale, each its own.

    Source: the model of the light source.
    """
    return source.model(as_lit(source, values, duty), part)


def as_lit(source: LightSource, values: Values, duty: float) -> Values:
    """Give the values of a light source for the share of the time for which it is lit.

    Source: the rise goes with the mean power.
    """
    missing = [b.name for b in source.beliefs if b.name not in values]
    if missing:
        raise InputError(f"no values of {', '.join(missing)} were drawn", key=source.name)
    if duty == 1.0 or heat.DRIFT not in values:
        return values
    return {**values, heat.DRIFT: values[heat.DRIFT] * heat.duty_share(source.steady_rise, duty)}


def true_flux(source: LightSource, values: Values, *, duty: float = 1.0) -> NDArray[np.float64]:
    """Give the lumens of a light source for drawn values: claim, heat, and the blackening of an old bulb.

    Source: the beliefs about each.
    """
    found = source.luminous_flux * values[TRUE_OVER_CLAIMED] * heat.hot_over_cold(source, values, duty)
    return np.asarray(found * values[BLACKENING] if BLACKENING in values else found)


def level_of(source: LightSource, article: str) -> LightSource:
    """Give a light source as another level of an article: emitter, claim and heat are drawn as those of the article.

    Source: one article holds one kind of emitter.
    """
    return replace(source, beliefs=tuple(replace(b, stream=article) for b in source.beliefs))


def warm_spectrum(source: LightSource, *, duty: float = 1.0) -> NDArray[np.float64]:
    """Give the typical spectrum of a light source that is warm, carrying the lumens that heat leaves of the claim.

    Source: the beliefs about heat.
    """
    typical = {b.name: np.asarray(b.typical) for b in source.beliefs}
    hot = heat.hot_over_cold(source, typical, duty)
    if heat.DRIFT not in typical:  # warmth takes of its light and leaves its colour
        return np.asarray(source.spectrum * hot)
    return np.asarray(relative_spectra(source, typical, duty=duty) * source.luminous_flux * hot)


def build(
    name: str,
    kind: SourceKind,
    luminous_flux: float,
    model: CurveModel,
    beliefs: tuple[Belief, ...],
    **fields: Any,
) -> LightSource:
    """Put a light source together: check its numbers and pin its typical spectrum to its flux."""
    flux = positive(luminous_flux, "luminous_flux", "lumens")
    for key, unit in (("electrical_power", "watts"), ("voltage", "volts")):
        if fields.get(key) is not None:
            fields[key] = positive(fields[key], key, unit)
    layout = fields.get("layout")
    if layout not in (None, "all-round", "forward"):
        raise InputError(f"the layout '{layout}' is unknown", key=name, expected="'all-round' or 'forward'")
    if fields.get("beam") is not None:
        what = "between which candela for each lumen, over that of the filament, lies"
        fields["beam"] = sampling.of_range(BEAM_RATIO, fields["beam"], "1", (0.01, 20.0), key="beam_ratio", what=what)
    # What is on the box was measured cold.
    typical = model({b.name: np.asarray(0.0 if b.name == heat.DRIFT else b.typical) for b in beliefs})
    spectrum = photometry.to_flux(typical, flux)
    spectrum.setflags(write=False)
    return LightSource(name, kind, flux, spectrum, model, beliefs, **fields)


def positive(value: Any, key: str, unit: str) -> float:
    """Take a number that has to be above zero, or say that it is not."""
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise InputError(f"{value!r} is not a number", key=key, expected=f"{unit} above zero") from None
    if not (np.isfinite(number) and number > 0):
        raise InputError(f"{number:g} cannot be used", key=key, expected=f"{unit} above zero")
    return number


def claim_belief(true_over_claimed: tuple[float, float] | None) -> Belief:
    """Give what is believed of the true over the claimed lumens of an LED."""
    if true_over_claimed is None:
        return Belief(
            TRUE_OVER_CLAIMED,
            *USUAL_CLAIM,
            "1",
            "an assumption: retail LED lamps more often give less than the box says (common practice, no source)",
            "lognormal",
        )
    what = "between which the truth lies in 95 of 100 cases"
    key = "true_over_claimed"
    return sampling.of_range(TRUE_OVER_CLAIMED, true_over_claimed, "1", (1e-3, 10.0), key=key, what=what)


USUAL_CLAIM = 0.8, 0.2
"""Median and standard deviation of the logarithm of true over claimed lumens of an LED [1]. Source: an assumption:
retail LED lamps more often give less than the box says (common practice, no source)."""


def claim_for(source: LightSource, values: Values) -> NDArray[np.float64]:
    """Give, draw by draw, the lumens that the box of such a light source says: its claim, or what a seller would claim.

    Source: USUAL_CLAIM for one of which nobody tells the lumens.
    """
    drawn = np.asarray(values[TRUE_OVER_CLAIMED])
    if source.claimed:
        return np.broadcast_to(source.luminous_flux, drawn.shape)
    own = next(belief for belief in source.beliefs if belief.name == TRUE_OVER_CLAIMED)
    median, spread = USUAL_CLAIM
    # The same draw of the seller, in the narrower belief about what is printed on boxes.
    usual = median * (drawn / own.typical) ** (spread / own.spread)
    return np.asarray(source.luminous_flux * drawn / usual)


BELIEVABLE_POWER_SHARE = 0.6
"""Radiated over electrical power above which a claim for a small LED light source is doubted [1].
Source: an assumption; laboratory emitters reach more, a small light source in a closed lamp does not."""


RADIATED_SHARE, RADIATED_SPREAD = 0.28, 0.35
"""Radiated over electrical power of an LED light source, and the standard deviation of its logarithm [1]: half to twice
in 95 of 100 cases. Source: an assumption; the electronics of a small light source waste about a fifth."""

SHARE_OF_MOST, UNTOLD_SPREAD = 0.3, 0.6
"""Watts over the most that the base sheds where nobody tells them, and the standard deviation of their logarithm [1].
Source: an assumption; a cluster of 24 emitters of 20 mA and 2.1 V takes 1 W, good ones of one base take five times."""

UNTOLD_POWER = 1.5
"""Watts of a light source of which neither watts nor base are told [W]. Source: an assumption."""

DIM_SHARE = 0.15
"""Watts of a dim level over those of its bright one where nobody tells them [1]. Source: an assumption; two filaments
of 21 W and 5 W differ by about as much in light."""


class Claim(Enum):
    """What the claimed lumens mean against the electrical watts."""

    UNCHECKED = "unchecked"
    BELIEVED = "believed"
    TOO_WARM = "too_warm"
    NOT_BELIEVABLE = "not_believable"
    IMPOSSIBLE = "impossible"


DOUBTED = Claim.TOO_WARM, Claim.NOT_BELIEVABLE, Claim.IMPOSSIBLE
"""Claims of which a page must speak."""


def check_claim(source: LightSource) -> tuple[Claim, Statement | None]:
    """Hold claimed lumens against the efficacy of radiation of the spectrum, and watts against what the base sheds."""
    if source.kind is SourceKind.FILAMENT or not source.electrical_power or not source.claimed:
        return Claim.UNCHECKED, None
    lumens, watts = source.luminous_flux, source.electrical_power
    efficacy, radiation = lumens / watts, float(photometry.efficacy_of_radiation(source.spectrum))
    share = efficacy / radiation
    stated = say("claim.stated", lumens=lumens, watts=watts, efficacy=efficacy, radiation=radiation)
    if share > 1.0:
        return Claim.IMPOSSIBLE, say("claim.impossible", stated=stated, most=radiation * watts)
    if share > BELIEVABLE_POWER_SHARE:
        return Claim.NOT_BELIEVABLE, say("claim.not_believable", stated=stated, share=share)
    most = heat.shedding(source.base).most_power
    if most is not None and watts > most:
        return Claim.TOO_WARM, say("claim.too_warm", watts=watts, base=source.base, most=most)
    return Claim.BELIEVED, say("claim.believed", stated=stated, share=share)


def usual_power(source: LightSource, *, dim: bool = False) -> float:
    """Give the watts that a light source usually takes of which nobody tells them: by its lumens, or else by its base.

    Source: RADIATED_SHARE of the watts by the efficacy of radiation of its spectrum, or what the base sheds.
    """
    if source.claimed:
        return source.luminous_flux / (RADIATED_SHARE * float(photometry.efficacy_of_radiation(source.spectrum)))
    most = heat.shedding(source.base).most_power
    return (SHARE_OF_MOST * most if most else UNTOLD_POWER) * (DIM_SHARE if dim else 1.0)


def no_lumens(sources: Iterable[LightSource]) -> Statement:
    """Say of light sources without a claim what was taken in its place, and from what it follows."""
    by_watts, by_base = (
        [
            say("notes.lumens_of", name=source.name, lumens=source.luminous_flux)
            for source in sources
            if bool(source.electrical_power) is told
        ]
        for told in (True, False)
    )
    return say("notes.no_lumens", by_watts=by_watts, by_base=by_base)


def unclaimed(source: LightSource, *, dim: bool = False) -> LightSource:
    """Give a light source of which nobody tells the lumens those that its watts lead to expect, widely spread.

    Source: RADIATED_SHARE of the watts, told or as the base sheds them, by the efficacy of radiation of its spectrum.
    """
    told = source.electrical_power
    watts = told or usual_power(replace(source, claimed=False), dim=dim)
    spread = RADIATED_SPREAD if told else float(np.hypot(RADIATED_SPREAD, UNTOLD_SPREAD))
    lumens = float(f"{RADIATED_SHARE * watts * float(photometry.efficacy_of_radiation(source.spectrum)):.2g}")
    ground = f"nobody tells the lumens: {lumens:g} lm follow from {'its' if told else 'usual'} watts, an assumption"
    belief = Belief(TRUE_OVER_CLAIMED, 1.0, spread, "1", ground, "lognormal")
    return replace(
        source,
        luminous_flux=lumens,
        spectrum=source.spectrum * (lumens / source.luminous_flux),
        beliefs=tuple(belief if old.name == TRUE_OVER_CLAIMED else old for old in source.beliefs),
        claimed=False,
    )


def measured_source(
    spectrum: str | Path | tuple[ArrayLike, ArrayLike] | ArrayLike,
    *,
    luminous_flux: float,
    outside: grid.Outside = "error",
    electrical_power: float | None = None,
    name: str | None = None,
    layout: str | None = None,
    voltage: float | None = None,
    true_over_claimed: tuple[float, float] | None = None,
    base: str | None = None,
    hot_over_cold: tuple[float, float] | None = None,
    beam_ratio: tuple[float, float] | None = None,
) -> LightSource:
    """Give a light source by its measured or tabulated spectrum.

    Parameters
    ----------
    spectrum : str, Path, pair of array_like, or array_like, shape (471,) [1]
        A CSV or IES TM-27-14 file, a pair of wavelengths in nm and values, or values on the grid; any scale.
    luminous_flux : float [lm]
        The claim on the box.
    outside : {'error', 'zero', 'hold'}
        What to do on the part of 360 nm to 830 nm that the table does not cover.
    electrical_power : float [W]
        The claim on the box.
    name : str
        How to call it.
    layout : str
        'all-round' or 'forward'.
    voltage : float [V]
        What flux and power refer to.
    true_over_claimed : tuple of float [1]
        Low and high end, in 95 of 100 cases, of true over claimed lumens.
    base : str
        The base that it stands on, as in 'BA15s'; it tells how warm the watts make it.
    hot_over_cold : tuple of float [1]
        Low and high end, in 95 of 100 cases, of its light when warm from steady burning over that when cold.
    beam_ratio : tuple of float [1]
        The same of candela towards the road for each lumen, over that of the filament; by `layout` when left out.

    Returns
    -------
    LightSource
        The light source; its spectrum is taken as known.

    Raises
    ------
    InputError
        The file or the table cannot be used, or a number is not positive.

    Examples
    --------
    >>> import lampkit as lk
    >>> path = lk.tables.folder() / "library_van" / "cie_led_b3.csv"
    >>> own = lk.sources.measured_source(path, luminous_flux=400, outside="zero", name="own LED")
    >>> round(float(lk.light.luminous_flux(own.spectrum)))
    400
    """
    label = "measured spectrum"
    if isinstance(spectrum, str | Path):
        whole = measured_curves.read_curve(spectrum, what="spectrum", outside=outside)
        label = Path(spectrum).stem
    elif isinstance(spectrum, tuple) and len(spectrum) == 2:
        whole = grid.resample(spectrum[0], spectrum[1], outside=outside)
    else:
        whole = grid.on_grid(spectrum)
    if whole.ndim != 1 or not np.all(np.isfinite(whole)) or np.any(whole < 0):
        raise InputError("a measured spectrum has values that are not a number or below zero", key=name or label)

    def curves(drawn: NDArray[np.float64], part: slice) -> NDArray[np.float64]:
        return np.broadcast_to(whole[part], (*drawn.shape, whole[part].size))

    model = CurveModel(lambda values: (np.asarray(values[TRUE_OVER_CLAIMED]),), curves)
    rise = heat.steady_rise(electrical_power, base)
    light, _ = heat.beliefs(heat.white("unknown"), rise, hot_over_cold)
    return build(
        name or label,
        SourceKind.MEASURED,
        luminous_flux,
        model,
        (claim_belief(true_over_claimed), light),
        base=base,
        steady_rise=rise,
        beam=beam_ratio,
        electrical_power=electrical_power,
        voltage=voltage,
        layout=layout,
    )
