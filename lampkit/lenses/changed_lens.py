"""What becomes of a lens: another behind it, another thickness, a faded dye, warmth; and what is measured of it."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid
from lampkit.errors import InputError
from lampkit.grid import CurveModel, Numbers, Values
from lampkit.lenses.coloured_lens import Lens, load, of_model
from lampkit.lenses.spectral_transmittance import CONDITIONS, condition
from lampkit.light import colorimetry, illuminants, photometry
from lampkit.uncertainty import posterior


def stack(*lenses: Lens, colour: str | None = None, name: str | None = None) -> Lens:
    """Put lenses one behind the other.

    The transmittances are multiplied; light thrown to and fro between two lenses is left out, which makes the stack
    too dark by at most 0.6 %. The order does not matter.

    Parameters
    ----------
    *lenses : Lens
        The lenses.
    colour : str, optional
        Colour of the whole; needed when more than one of them is coloured and their colours differ.
    name : str, optional
        Name.

    Returns
    -------
    Lens
        The stack; its beliefs carry the name of their lens in front.

    Raises
    ------
    InputError
        There is no lens, or the colour of the whole is not clear.

    Examples
    --------
    Two neutral lenses multiply.

    >>> import lampkit as lk
    >>> pair = lk.lenses.stack(lk.lenses.neutral(0.5, name="smoke"), lk.lenses.neutral(0.8, name="haze"))
    >>> float(pair.transmittance[0].round(2))
    0.4

    Source: product of transmittances; two surfaces of R = 0.04 facing two others reflect at most 0.077 x 0.077.
    """
    if not lenses:
        raise InputError("a stack needs at least one lens", expected="lenses, as load('red')")
    coloured = {lens.colour for lens in lenses} - {"clear"}
    if colour is None and len(coloured) > 1:
        raise InputError(f"a stack of {' and '.join(sorted(coloured))} has no colour of its own", expected="colour=")
    # In order of name, so that the order in which they were given changes nothing, not even the draws.
    parts: list[tuple[str, Lens]] = []
    for lens in sorted(lenses, key=lambda one: one.name):
        twins = sum(other.name == lens.name for _, other in parts)
        parts.append((f"{lens.name}{f' ({twins + 1})' if twins else ''}: ", lens))

    def numbers(values: Values) -> Numbers:
        conditions = {n: v for n, v in values.items() if n in CONDITIONS}
        owned = (
            (lens, {n.removeprefix(prefix): v for n, v in values.items() if n.startswith(prefix)})
            for prefix, lens in parts
        )
        return tuple(number for lens, own in owned for number in lens.model.numbers({**own, **conditions}))

    def curves(*numbers: NDArray[np.float64], part: slice) -> NDArray[np.float64]:
        product, left = np.ones(()), numbers
        for count, (_, lens) in zip(counts, parts, strict=True):
            product = product * lens.model.curves(*left[:count], part=part)
            left = left[count:]
        return np.asarray(product)

    typical = ({b.name: np.asarray(b.typical) for b in lens.beliefs} for _, lens in parts)
    counts = [len(lens.model.numbers(values)) for (_, lens), values in zip(parts, typical, strict=True)]
    return of_model(
        name or " + ".join(lens.name for _, lens in parts),
        colour or (coloured.pop() if coloured else "clear"),
        CurveModel(numbers, curves),
        [replace(b, name=prefix + b.name) for prefix, lens in parts for b in lens.beliefs],
        lenses[0].material if len({lens.material for lens in lenses}) == 1 else None,
        [
            *dict.fromkeys(n for lens in lenses for n in lens.notes),
            "light thrown to and fro between lenses is left out",
        ],
    )


def _under(lens: Lens, changed: Callable[[Values], Values], note: str, name: str | None) -> Lens:
    model = CurveModel(lambda values: lens.model.numbers(changed(values)), lens.model.curves)
    return of_model(name or lens.name, lens.colour, model, lens.beliefs, lens.material, [*lens.notes, note])


def _times(what: str, ratio: float) -> Callable[[Values], Values]:
    return lambda values: {**values, what: condition(values, what) * ratio}


def thicker(lens: Lens, ratio: float, *, name: str | None = None) -> Lens:
    """Give the same lens in another thickness.

    Parameters
    ----------
    lens : Lens
        The lens.
    ratio : float [1]
        New thickness over old thickness, both in mm; below one for a thinner lens.
    name : str, optional
        Name; that of the lens when left out, so that both are drawn as the same lens.

    Returns
    -------
    Lens
        The lens; dye and base absorb more, the surfaces and the leak stay.

    Raises
    ------
    InputError
        The ratio is not positive.

    Examples
    --------
    Twice as thick, a red lens passes less of illuminant A.

    >>> import lampkit as lk
    >>> lens = lk.lenses.load("red")
    >>> both = [one.transmittance for one in (lens, lk.lenses.thicker(lens, 2))]
    >>> lk.light.luminous_transmittance(both, lk.light.illuminant("A")).round(2)
    array([0.23, 0.19])

    Source: Bouguer-Lambert-Beer law.
    """
    _check_ratio(ratio, "ratio")
    return _under(lens, _times("thickness ratio", ratio), f"{ratio:g} times as thick", name)


def faded(lens: Lens, dye_fraction: float, *, name: str | None = None) -> Lens:
    """Give the same lens after its dye has faded; haze is not part of it.

    Parameters
    ----------
    lens : Lens
        The lens.
    dye_fraction : float [1]
        Share of the dye that is left, above zero; above one for a stronger dye.
    name : str, optional
        Name; that of the lens when left out, so that both are drawn as the same lens.

    Returns
    -------
    Lens
        The lens; an edge moves by its width times the logarithm of the share, base and surfaces stay.

    Raises
    ------
    InputError
        The share is not positive.

    Examples
    --------
    With half of its dye left, a red lens passes more of illuminant A.

    >>> import lampkit as lk
    >>> lens = lk.lenses.load("red")
    >>> both = [one.transmittance for one in (lens, lk.lenses.faded(lens, 0.5))]
    >>> lk.light.luminous_transmittance(both, lk.light.illuminant("A")).round(2)
    array([0.23, 0.27])

    Source: Bouguer-Lambert-Beer law.
    """
    _check_ratio(dye_fraction, "dye_fraction")
    return _under(lens, _times("dye left", dye_fraction), f"{100 * dye_fraction:g} % of its dye left", name)


def at_temperature(lens: Lens, celsius: float, *, name: str | None = None) -> Lens:
    """Give the same lens warm or cold: an absorption edge moves towards red when it is warmed.

    Parameters
    ----------
    lens : Lens
        The lens, described at 25 degC.
    celsius : float [degC]
        Its temperature, -60 to 200.
    name : str, optional
        Name; that of the lens when left out, so that both are drawn as the same lens.

    Returns
    -------
    Lens
        The lens. One without an edge is unchanged and says so in its notes.

    Raises
    ------
    InputError
        The temperature is outside -60 degC to 200 degC.

    Examples
    --------
    Warm, a red lens passes a little less of illuminant A.

    >>> import lampkit as lk
    >>> lens = lk.lenses.load("red")
    >>> both = [one.transmittance for one in (lens, lk.lenses.at_temperature(lens, 80))]
    >>> lk.light.luminous_transmittance(both, lk.light.illuminant("A")).round(2)
    array([0.23, 0.22])

    Source: belief 'edge shift' of the lens: cadmium glass 0.12 nm/K at 596 nm (from memory), plastic an assumption.
    """
    if not -60.0 <= celsius <= 200.0:
        raise InputError(f"{celsius:g} degC is no lens temperature", key="celsius", expected="-60 degC to 200 degC")
    note = f"at {celsius:g} degC"
    if not any(b.name.endswith("edge shift") for b in lens.beliefs):
        note += ": taken as unchanged, since no shift of its colour with temperature is published"
    # A temperature that is asked for later takes the place of this one.
    return _under(lens, lambda values: {"temperature": np.asarray(float(celsius)), **values}, note, name)


def _check_ratio(ratio: float, key: str) -> None:
    if not (np.isfinite(ratio) and ratio > 0):
        raise InputError(f"{ratio:g} is not a positive ratio", key=key, expected="a number above zero, 1 for as it was")


def from_measured(
    colour: str,
    *,
    luminous_transmittance: float | None = None,
    chromaticity: ArrayLike | None = None,
    spectrum: ArrayLike | None = None,
    relative_uncertainty: float = 0.03,
    chromaticity_uncertainty: float = 0.003,
    material: str = "plastic",
    name: str | None = None,
) -> Lens:
    """Give a lens narrowed by what was measured of it: luminous transmittance, chromaticity, or both.

    The measured values are weighed against what is believed of any lens of that colour and material. The result keeps
    the spread in every direction that they cannot see, and its notes say in words which that is.

    Parameters
    ----------
    colour : str
        One of COLOURS.
    luminous_transmittance : float, optional [1]
        The share of the light of `spectrum` that the lens lets through.
    chromaticity : array_like, shape (2,), optional [1]
        CIE 1931 x, y of that light behind the lens.
    spectrum : array_like, shape (471,), optional [W/nm]
        Spectrum of the light used, on any scale; CIE illuminant A when left out.
    relative_uncertainty : float [1]
        Standard uncertainty of the luminous transmittance, relative to it.
    chromaticity_uncertainty : float [1]
        Standard uncertainty of x and of y.
    material : {'plastic', 'old glass', 'unknown'}
        The material.
    name : str, optional
        Name.

    Returns
    -------
    Lens
        The lens. Its beliefs stand on directions in which several parameters move together, the best seen first.

    Raises
    ------
    InputError
        Nothing was measured, a value is impossible, or no lens of that colour comes near the values.

    Examples
    --------
    A piece of red lens that was measured to pass 24 % of illuminant A.

    >>> import lampkit as lk
    >>> lens = lk.lenses.from_measured("red", luminous_transmittance=0.24)
    >>> float(lk.light.luminous_transmittance(lens.transmittance, lk.light.illuminant("A")).round(2))
    0.24

    Source: least squares with prior knowledge, JCGM 101:2008 and its linearisation; illuminant A: CIE 015:2018.
    """
    base = load(colour, material=material)
    light = illuminants.illuminant("A") if spectrum is None else grid.on_grid(spectrum)
    measured: list[float] = []
    uncertainty: list[float] = []
    if luminous_transmittance is not None:
        if not 0.0 < luminous_transmittance <= 1.0:
            raise InputError(
                f"a luminous transmittance of {luminous_transmittance:g} is not possible",
                key="luminous_transmittance",
                expected="above 0, at most 1; a percentage divided by 100",
            )
        measured.append(float(np.log(luminous_transmittance)))
        uncertainty.append(relative_uncertainty)
    if chromaticity is not None:
        xy = np.asarray(chromaticity, dtype=float)
        if xy.shape != (2,) or not np.all((xy > 0) & (xy < 1)) or xy.sum() > 1.0:
            raise InputError(
                "the chromaticity is no pair x, y", key="chromaticity", expected="for example (0.68, 0.32)"
            )
        measured += xy.tolist()
        uncertainty += [chromaticity_uncertainty] * 2
    if not measured:
        raise InputError(
            "nothing measured was given",
            expected="luminous_transmittance=, chromaticity= or both",
            remedy="else use load",
        )

    def predict(values: Values) -> NDArray[np.float64]:
        tau = base.model(values)
        share = np.log(photometry.luminous_transmittance(tau, light))[..., np.newaxis]
        seen = colorimetry.chromaticity(tau * light)
        return np.concatenate(
            ([share] if luminous_transmittance is not None else []) + ([seen] if chromaticity is not None else []), -1
        )

    found = posterior.narrow(predict, base.beliefs, measured, uncertainty)

    model = CurveModel(lambda values: base.model.numbers(found.parameters(values)), base.model.curves)
    return of_model(
        name or f"measured {base.name}", colour, model, found.beliefs, material, [*base.notes, *found.notes]
    )
