"""What the sentences of a lesson may ask the kit for: small functions of plain words and numbers, and nothing else."""

from collections.abc import Callable, Mapping
from functools import cache
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import conversion, grid, lenses, sources
from lampkit.lenses.coloured_lens import Lens, of_model
from lampkit.light import colorimetry, photometry
from lampkit.measurement import colour_response, lamp_face, meters
from lampkit.rules import colours
from lampkit.sources.light_source import TRUE_OVER_CLAIMED, LightSource
from lampkit.tables import load
from lampkit.uncertainty import budget, sampling
from lampkit.visibility import brightness

EDGES = (500.0, 570.0, 590.0, 610.0)
"""Where one band ends and the next begins [nm]. Source: own judgement: blue, green, yellow, orange and red."""

SEEN = (400.0, 760.0)
"""Between these wavelengths watts are counted [nm]. Source: CIE 018:2019, beyond them V(lambda) is below 0.0005."""


def _parts(low: float, high: float) -> NDArray[np.float64]:
    """Give the weight of each wavelength in each band; a wavelength on an edge belongs half to either side."""
    edges = np.array([low, *EDGES, high])[:, np.newaxis]
    begun = np.clip(grid.WAVELENGTHS - edges + 0.5, 0.0, 1.0)
    return np.asarray(begun[:-1] - begun[1:])


def coins(shares: ArrayLike) -> NDArray[np.int64]:
    """Share out a hundred coins; what is lost by rounding goes to the largest remainders, so that a hundred stay."""
    exact = 100.0 * np.asarray(shares, dtype=float)
    whole = np.floor(exact).astype(int)
    left = 100 - int(whole.sum())
    whole[np.argsort(whole - exact, kind="stable")[:left]] += 1
    return np.asarray(whole)


def coins_left(whole: NDArray[np.int64], passed: NDArray[np.float64], total: int) -> NDArray[np.int64]:
    """Say of which coins a lens leaves how many, so that the total is right."""
    exact = whole * passed
    left = np.floor(exact).astype(int)
    left[np.argsort(left - exact, kind="stable")[: max(total - int(left.sum()), 0)]] += 1
    return np.asarray(left)


OLD_LUMENS = 460.0
"""What a 21 W stop lamp gives, and what each box promises [lm]. Source: UN R37, sheet P21W (from memory)."""

FILAMENT = "filament"

ENGINE_RUNNING = 13.5
"""Voltage at the filament lamps of a lesson [V]. Source: UN R37, test voltage (from memory)."""

PITCH = 1.6
"""From one turn of the track of a CD to the next [micrometre]. Source: IEC 60908 (from memory)."""

DRAWS, SEED = 4000, 1
"""Possible phones behind an interval, and their seed [1]."""

IN_DISTANCE = 0.03
"""Standard uncertainty of one reading of a phone that is clamped [1]. Source: an assumption."""


@cache
def lamp(words: str) -> LightSource:
    """Make a lamp from its words: 'filament', 'white 6000', a colour of LED such as 'red', or a peak, '617 nm'."""
    kind, _, number = words.rpartition(" ")
    if words == FILAMENT:
        return sources.filament("P21W", voltage=ENGINE_RUNNING)
    if kind == "white":
        return sources.white_led(float(number), luminous_flux=OLD_LUMENS)
    if number == "nm":
        return sources.coloured_led(peak=float(kind), luminous_flux=OLD_LUMENS)
    return sources.coloured_led(words, luminous_flux=OLD_LUMENS)


@cache
def lens(words: str) -> Lens:
    """Take a lens from its words: a colour, or a colour and the wavelength of its edge, 'red 585'."""
    colour, _, edge = words.partition(" ")
    preset = lenses.load(colour)
    if not edge:
        return preset
    moved = sampling.set_belief(preset.beliefs, "edge wavelength", typical=float(edge))
    return of_model(words, colour, preset.model, moved, preset.material)


@cache
def passes(through: str, source: str) -> float:
    """Give the share of a lamp's lumens that a lens lets through."""
    return float(photometry.luminous_transmittance(lens(through).transmittance, lamp(source).spectrum))


def k(through: str, source: str) -> float:
    """Give what a lumen of a lamp is worth behind a lens, in lumens of the filament."""
    return passes(through, source) / passes(through, FILAMENT)


def lumens_needed(through: str, source: str, old: float = OLD_LUMENS) -> float:
    """Give the lumens that make a lamp as bright behind a lens as the filament was."""
    return old / k(through, source)


def lumens_out(through: str, source: str, lumens: float = OLD_LUMENS) -> float:
    """Give the lumens that come out of a lens."""
    return lumens * passes(through, source)


def lumens_per_watt(nanometres: float) -> float:
    """Give the lumens that the eye counts for one watt of one wavelength."""
    eye = np.interp(nanometres, grid.WAVELENGTHS, photometry.luminous_efficiency(), left=0.0, right=0.0)
    return float(photometry.K_M * eye)


def lumens_per_visible_watt(source: str) -> float:
    """Give the lumens for each watt that a lamp radiates between 400 nm and 760 nm."""
    return float(photometry.efficacy_of_radiation(lamp(source).spectrum, band=SEEN))


def lens_at(through: str, nanometres: float) -> float:
    """Give the share of one wavelength that a lens lets through."""
    return float(np.interp(nanometres, grid.WAVELENGTHS, lens(through).transmittance))


def watts_of(source: str) -> NDArray[np.float64]:
    """Share out the visible watts of a lamp over the five bands."""
    watts = _parts(*SEEN) @ lamp(source).spectrum
    return np.asarray(watts / watts.sum())


def lumens_of(source: str) -> NDArray[np.float64]:
    """Share out the lumens of a lamp over the five bands.

    Source: CIE 018:2019 for the weights.
    """
    lumens = _parts(359.5, 830.5) @ (lamp(source).spectrum * photometry.luminous_efficiency())
    return np.asarray(lumens / lumens.sum())


def passed(through: str) -> NDArray[np.float64]:
    """Give what a lens passes of each of the five bands, for light of equal watts at all wavelengths of a band.

    Within so narrow a band it matters little which light it is.
    """
    weights = _parts(359.5, 830.5) * photometry.luminous_efficiency()
    return np.asarray(weights @ lens(through).transmittance / weights.sum(axis=-1))


def by_hand(through: str, source: str) -> float:
    """Multiply the coins and the whole per cents of the table band by band and add, as with a pencil."""
    return float(coins(lumens_of(source)) @ np.rint(100 * passed(through))) / 1e4


def lumens_between(source: str, low: float, high: float) -> float:
    """Give the share of a lamp's lumens that lies between two wavelengths."""
    light = lamp(source).spectrum * photometry.luminous_efficiency()
    within = np.clip(grid.WAVELENGTHS - low + 0.5, 0, 1) - np.clip(grid.WAVELENGTHS - high + 0.5, 0, 1)
    return float(light @ within / light.sum())


def watts_passed(through: str, source: str) -> float:
    """Give the share of a lamp's visible watts that a lens lets through."""
    return 1.0 - stopped_watts(through, source, 1.0) / visible_watts(source, 1.0)


def visible_watts(source: str, lumens: float) -> float:
    """Give the watts that a lamp radiates between 400 nm and 760 nm."""
    return lumens / lumens_per_visible_watt(source)


def stopped_watts(through: str, source: str, lumens: float) -> float:
    """Give the watts between 400 nm and 760 nm that a lens keeps back, and turns into heat or sends back."""
    low, high = SEEN
    seen = (low <= grid.WAVELENGTHS) & (high >= grid.WAVELENGTHS)
    kept = lamp(source).spectrum * (1.0 - lens(through).transmittance) * seen
    return float(kept.sum()) * lumens / lamp(source).luminous_flux


def electrical_watts() -> float:
    """Give the watts that the filament lamp takes."""
    return float(lamp(FILAMENT).electrical_power or np.nan)


def full_width(source: str) -> float:
    """Give the width of a lamp's band at half its height."""
    spectrum = lamp(source).spectrum
    top = int(spectrum.argmax())
    half = 0.5 * spectrum[top]
    ends = (
        np.interp(half, spectrum[:top], grid.WAVELENGTHS[:top]),
        np.interp(half, spectrum[:top:-1], grid.WAVELENGTHS[:top:-1]),
    )
    return float(ends[1] - ends[0])


def grating_angle(nanometres: float, pitch: float = PITCH) -> float:
    """Give the angle [deg] at which a CD, lit straight from above, sends a wavelength (first order)."""
    return float(np.degrees(np.arcsin(nanometres / (1000.0 * pitch))))


def light_at_voltage(volts: float) -> float:
    """Give the light of a filament at a voltage, over its light with the engine running."""
    return float(sources.voltage_law(volts / ENGINE_RUNNING, "flux"))


def current_at_voltage(volts: float) -> float:
    """Give the current of a filament at a voltage, over its current with the engine running."""
    return float(sources.voltage_law(volts / ENGINE_RUNNING, "current"))


def looks(through: str, source: str) -> NDArray[np.float64]:
    """Give how bright the light looks beside white of equal luminance, by the lowest and the highest model."""
    return brightness.brightness_range(colorimetry.chromaticity(_behind(through, source)))


def near_middle_cone(through: str, source: str) -> float:
    """Give what middle-wave cones alone make of the light behind a lens, where they make one of the bare lamp."""
    table = load("observers", "middle_wave_cone")
    cone = np.interp(grid.WAVELENGTHS, table["wavelength_nm"], table["sensitivity"], left=0.0)
    out, bare = _behind(through, source), lamp("white 6000").spectrum
    return float((cone @ out) / photometry.luminous_flux(out) / ((cone @ bare) / photometry.luminous_flux(bare)))


def colour_margin(through: str, source: str) -> float:
    """Give how far inside (above zero) or outside the UN limits of its colour the light behind a lens lies, in x, y."""
    region = colours.colour_region("UN", {"clear": "white"}.get(through, through))
    return float(colours.colour_margin(region, colorimetry.chromaticity(_behind(through, source))))


def _behind(through: str, source: str) -> NDArray[np.float64]:
    return np.asarray(lens(through).transmittance * lamp(source).spectrum)


@cache
def assessed(through: str, source: str, lumens: float, box: str = "doubted") -> NDArray[np.float64]:
    """Give the light against the filament's with its 95 % interval, the lumens on the box doubted or taken as true."""
    claimed = (0.99, 1.01) if box == "true" else None
    kind, _, number = source.rpartition(" ")
    if kind == "white":
        led = sources.white_led(float(number), luminous_flux=lumens, true_over_claimed=claimed)
    else:
        led = sources.coloured_led(source, luminous_flux=lumens, true_over_claimed=claimed)
    return conversion.assess(lamp(FILAMENT), [led], lens(through), draws=DRAWS, seed=SEED).results[0].ratio


@cache
def lumens_to_buy(through: str, source: str) -> float:
    """Give what the box must promise for at least the filament's light with 90 % assurance, as boxes go."""
    made = conversion.assess(lamp(FILAMENT), [lamp(source)], lens(through), draws=DRAWS, seed=SEED)
    return float(made.results[0].lumens_to_buy)


def true_over_claimed() -> NDArray[np.float64]:
    """Give the true over the claimed lumens of an LED as the kit believes it, low and high end of 95 %."""
    belief = next(b for b in lamp("red").beliefs if b.name == TRUE_OVER_CLAIMED)
    return np.asarray(belief.value(budget.K_95 * np.array([-1.0, 1.0])))


@cache
def rise_of_filament() -> float:
    """Give the seconds from switching on until a filament has nine tenths of its light."""
    temperature = next(b.typical for b in lamp(FILAMENT).beliefs if b.name == "filament temperature")
    wire = sources.hot_wire_of_rating(ENGINE_RUNNING, electrical_watts(), temperature)
    return float(sources.rise_time(sources.switch_on(wire)))


def matched_distance(start: float, through: str, source: str) -> float:
    """Give where a lamp that matched from one distance matches again through a coloured sheet."""
    return start * float(np.sqrt(k(through, source)))


@cache
def phone_k(through: str, source: str) -> NDArray[np.float64]:
    """Give K as phones read it, lower limit, middle and upper limit of 95 %: four readings, each with its scatter."""
    phone = meters.phone()
    drawn = sampling.draw({phone.name: phone.beliefs}, DRAWS, SEED).of(phone.name)
    seen, leak = phone.model(drawn), drawn["near-infrared leak"]
    scatter = np.exp(2.0 * IN_DISTANCE * sampling.standard_normal(SEED, "phone_k", "four readings", DRAWS))
    shares = [_read_share(seen, leak, through, name) for name in (source, FILAMENT)]
    return sampling.interval(shares[0] / shares[1] * scatter)


def leaking_k(through: str, source: str, leak: float) -> float:
    """Give K as a sensor reads it that is right in colour, but sees a share of its peak from 700 nm to 1000 nm, too."""
    eye = photometry.luminous_efficiency()
    begin, _ = meters.LEAK_BAND
    seen = np.where(begin <= grid.WAVELENGTHS, np.maximum(eye, leak), eye)
    shares = [float(_read_share(seen, np.asarray(leak), through, name)) for name in (source, FILAMENT)]
    return shares[0] / shares[1]


def _read_share(seen: NDArray[np.float64], leak: NDArray[np.float64], through: str, source: str) -> NDArray[np.float64]:
    bare = meters.signal(seen, lamp(source).spectrum, leak=leak)
    return np.asarray(meters.signal(seen, _behind(through, source), leak=leak) / bare)


def k_spread(bare: float, filtered: float, groups: float = 1.0) -> float:
    """Give the relative standard uncertainty of K from those of the two distances; K goes with their square."""
    return float(2.0 * np.hypot(bare, filtered) / np.sqrt(groups))


def raw_ratio(true: float, background: float) -> float:
    """Give what dividing two readings says, the background in units of the old lamp's own light."""
    return (true + background) / (1.0 + background)


def colour_doubt() -> NDArray[np.float64]:
    """Give the factor that phones at large need for an LED over a filament behind the same lens: 95 % and middle."""
    return np.asarray(colour_response.generic_mismatch(meters.phone()).value(budget.K_95 * np.array([-1.0, 0.0, 1.0])))


def face_error(distance: float, diameter: float) -> float:
    """Give by how much a lamp face of some size reads low at a distance, both in m."""
    return 1.0 - float(lamp_face.near_field_factor(distance, diameter))


def distance_error(distance: float, off: float) -> float:
    """Give the error of a reading when the meter stands a little farther off than it should."""
    return float((distance / (distance + off)) ** 2 - 1.0)


QUANTITIES: Mapping[str, Callable[..., object]] = MappingProxyType(
    {
        asked.__name__: asked
        for asked in (
            passes, k, lumens_needed, lumens_out, lumens_per_watt, lumens_per_visible_watt, lens_at, watts_of,
            lumens_of, passed, by_hand, lumens_between, watts_passed, visible_watts, stopped_watts, electrical_watts,
            full_width, grating_angle, light_at_voltage, current_at_voltage, looks, near_middle_cone, colour_margin,
            true_over_claimed, rise_of_filament, assessed, lumens_to_buy, matched_distance, phone_k, leaking_k,
            k_spread, raw_ratio, colour_doubt, face_error, distance_error,
        )
    }
)  # fmt: skip
"""By the name that a lesson calls it."""
