"""Lenses: what is believed of their spectral transmittance, by colour and material or as it was measured."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, tables
from lampkit.errors import InputError, nearest
from lampkit.grid import CurveModel
from lampkit.lenses import spectral_transmittance
from lampkit.lenses.spectral_transmittance import CONDITIONS
from lampkit.light import measured_curves, photometry
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Belief

COLOURS = tuple(dict.fromkeys(map(str, tables.load("lenses", "presets")["preset"])))
"""Colours of signal lenses, those of the table; clear is the lens in front of white light."""

SUBSTANCE = {"plastic": "acrylic", "old glass": "soda-lime glass", "unknown": "soda-lime glass"}
"""What the lens materials are taken to be made of. Source: common practice, no source; what nobody knows is taken as
old glass, of which the belief is the wider one and takes in plastic."""


@dataclass(frozen=True, eq=False)
class Lens:
    """A coloured or clear lens of a lamp: its typical transmittance and what is believed of it.

    Parameters
    ----------
    name : str
        Name; draws of its beliefs belong to it.
    colour : str
        One of COLOURS.
    transmittance : ndarray, shape (471,) [1]
        Typical spectral transmittance, surfaces included.
    model : callable
        From named parameters, each of shape (...), to transmittances of shape (..., 471) [1].
    beliefs : tuple of Belief
        What is believed of each parameter of the model.
    material : str, optional
        'plastic', 'old glass' or 'unknown'; it fixes the surfaces, which thickness does not change.
    notes : tuple of str
        What was assumed, in words.

    Examples
    --------
    >>> import lampkit as lk
    >>> lens = lk.lenses.load("amber", material="old glass")
    >>> lens
    amber old glass: amber lens, old glass
    >>> [b.name for b in lens.beliefs][:2]
    ['edge wavelength', 'edge width']
    """

    name: str
    colour: str
    transmittance: NDArray[np.float64]
    model: CurveModel
    beliefs: tuple[Belief, ...]
    material: str | None = None
    notes: tuple[str, ...] = ()

    def __repr__(self) -> str:
        named = "" if self.material is None else f", {self.material}"
        return f"{self.name}: {self.colour} lens{named}"

    def _repr_html_(self) -> str:
        return sampling.card(repr(self), self.transmittance, self.beliefs, self.notes)


def of_model(
    name: str,
    colour: str,
    model: CurveModel,
    beliefs: Iterable[Belief],
    material: str | None,
    notes: Iterable[str] = (),
) -> Lens:
    """Make a lens out of its model and beliefs, its typical transmittance computed from them."""
    if colour not in COLOURS:
        raise InputError(f"the lens colour '{colour}' is unknown", key="colour", expected=nearest(colour, COLOURS))
    listed = tuple(beliefs)
    typical = np.asarray(model({b.name: np.asarray(b.typical) for b in listed}))
    typical.setflags(write=False)
    return Lens(name, colour, typical, model, listed, material, tuple(notes))


def transmittances(lens: Lens, values: Mapping[str, ArrayLike], *, part: slice = grid.WHOLE) -> NDArray[np.float64]:
    """Give the spectral transmittance of a lens for drawn or chosen values of its parameters.

    Parameters
    ----------
    lens : Lens
        The lens.
    values : mapping of str to array_like, shape (...) [1]
        Parameters by the names of the lens's beliefs, each in the unit of its belief, and the names of CONDITIONS.
        They broadcast. A parameter that is left out takes its typical value.
    part : slice
        Which wavelengths of the grid; every one when left out.

    Returns
    -------
    ndarray, shape (..., 471) [1]
        The transmittances.

    Raises
    ------
    InputError
        A name is no parameter of this lens, or a value is outside what is possible.

    Examples
    --------
    A lens whose edge lies further in the red passes less of illuminant A.

    >>> import lampkit as lk
    >>> tau = lk.lenses.transmittances(lk.lenses.load("red"), {"edge wavelength": [590, 600, 610]})
    >>> lk.light.luminous_transmittance(tau, lk.light.illuminant("A")).round(2)
    array([0.29, 0.22, 0.16])
    """
    given = {b.name: np.asarray(b.typical) for b in lens.beliefs}
    for name, value in values.items():
        if name not in given and name not in CONDITIONS:
            raise InputError(
                f"the lens '{lens.name}' has no parameter '{name}'", expected=nearest(name, [*given, *CONDITIONS])
            )
        given[name] = np.asarray(value, dtype=float)
        if not np.all(np.isfinite(given[name])):
            raise InputError("a value is not a number", key=name, expected="finite values")
    shape = np.broadcast_shapes(*(value.shape for value in given.values()))
    tau, whole = lens.model(given, part), (*shape, grid.WAVELENGTHS[part].size)
    return tau if tau.shape == whole else np.broadcast_to(tau, whole).copy()


@cache
def _presets() -> dict[tuple[str, str], list[Belief]]:
    found: dict[tuple[str, str], list[Belief]] = {}
    for row in tables.load("lenses", "presets").rows():
        belief = Belief(
            name=row["parameter"],
            typical=row["typical"],
            spread=row["spread"],
            unit=row["unit"],
            source=row["source"],
            shape=row["shape"],
            low=-np.inf if np.isnan(row["low"]) else row["low"],
            high=np.inf if np.isnan(row["high"]) else row["high"],
        )
        found.setdefault((row["preset"], row["material"]), []).append(belief)
    return found


def load(preset: str, *, material: str = "plastic", name: str | None = None) -> Lens:
    """Give a lens of which only colour and material are known.

    Parameters
    ----------
    preset : str
        'red', 'amber', 'clear', 'green' or 'blue'.
    material : {'plastic', 'old glass', 'unknown'}
        The material; one that is not known is believed to be as wide as old glass is, which takes in plastic.
    name : str, optional
        Name; 'red plastic' and so on when left out.

    Returns
    -------
    Lens
        The lens, a distribution: its beliefs carry the spread between makes, and the source of each.

    Raises
    ------
    InputError
        The colour or the material is unknown.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.lenses.load("red")
    red plastic: red lens, plastic

    Source: data/lenses/presets.csv and dye_bands.csv, source per row.
    """
    if preset not in COLOURS:
        raise InputError(f"there is no lens preset '{preset}'", expected=nearest(preset, COLOURS))
    _check_material(material)
    loss_free = _loss_free(material)
    notes = ["no measured curve of a vehicle lens was found: value and spread are judged"]
    rows = "old glass" if material == "unknown" else material
    if (preset, rows) not in _presets():
        raise InputError(f"the table lenses/presets has no rows of a {preset} lens of {rows}", key="material")
    beliefs = _presets()[preset, rows]
    told = {belief.name for belief in beliefs}
    if "edge wavelength" in told:
        model = spectral_transmittance.edge_model(loss_free)
    elif "dye strength" not in told:
        model = spectral_transmittance.flat_model(loss_free)
    else:
        bands = tables.load("lenses", "dye_bands")
        mine = bands["colour"] == preset
        model = spectral_transmittance.band_model(
            loss_free, bands["centre_nm"][mine], bands["width_nm"][mine], bands["absorbance"][mine]
        )
        notes.append("the shape of the bands is an assumption held against the standard signal lens")
    return of_model(name or usual_name(preset, material), preset, model, beliefs, material, notes)


def usual_name(colour: str, material: str) -> str:
    """Name a lens of which only colour and material are known: 'red plastic'."""
    return f"{colour}, material unknown" if material == "unknown" else f"{colour} {material}"


def neutral(transmittance: float, *, relative_spread: float = 0.02, name: str | None = None) -> Lens:
    """Give a lens or window that dims all wavelengths alike.

    Parameters
    ----------
    transmittance : float [1]
        Its transmittance, surfaces included, above zero.
    relative_spread : float [1]
        Standard deviation of the logarithm of the transmittance.
    name : str, optional
        Name.

    Returns
    -------
    Lens
        The lens, of the colour 'clear'.

    Raises
    ------
    InputError
        The transmittance is not above zero, or above one.

    Examples
    --------
    It passes the same share of any light.

    >>> import lampkit as lk
    >>> smoke = lk.lenses.neutral(0.5)
    >>> lights = [lk.light.illuminant("A"), lk.light.illuminant("LED-B5")]
    >>> lk.light.luminous_transmittance(smoke.transmittance, lights).round(2)
    array([0.5, 0.5])

    Source: definition; the spread is an assumption unless you give your own.
    """
    if not 0.0 < transmittance <= 1.0:
        raise InputError(f"a transmittance of {transmittance:g} is not possible", expected="above 0, at most 1")
    belief = Belief("plateau", transmittance, relative_spread, "1", "as given", "lognormal", high=1.0)
    return of_model(
        name or f"neutral {transmittance:g}",
        "clear",
        spectral_transmittance.flat_model(1.0),
        [belief],
        None,
        ["the same at all wavelengths"],
    )


def _check_material(material: str) -> None:
    if material not in SUBSTANCE:
        raise InputError(
            f"the lens material '{material}' is unknown", key="material", expected=nearest(material, SUBSTANCE)
        )


@cache
def _loss_free(material: str) -> float:
    index = spectral_transmittance.refractive_index(SUBSTANCE[material], spectral_transmittance.SODIUM_D)
    return float(spectral_transmittance.slab_transmittance(index))


def read(
    path: str | Path,
    *,
    colour: str,
    outside: grid.Outside = "error",
    material: str = "plastic",
    relative_uncertainty: float = 0.02,
    name: str | None = None,
) -> Lens:
    """Read a measured transmittance from a file.

    Parameters
    ----------
    path : str or Path
        The file; lampkit.light.read_curve says what it may hold.
    colour : str
        Colour of the lens, one of COLOURS.
    outside : {'error', 'zero', 'hold'}
        What to do on the part of 360 nm to 830 nm that the file does not cover.
    material : {'plastic', 'old glass', 'unknown'}
        The material; it matters only when the thickness is changed.
    relative_uncertainty : float [1]
        Standard uncertainty of the scale of the measurement, the same at all wavelengths.
    name : str, optional
        Name; that of the file when left out.

    Returns
    -------
    Lens
        The lens.

    Raises
    ------
    InputError
        The file cannot be read or holds no transmittance, the colour or the material is unknown, or the uncertainty
        is not between zero and one.

    Examples
    --------
    A piece of lens measured every 10 nm.

    >>> import lampkit as lk
    >>> import tempfile
    >>> from pathlib import Path
    >>> rows = [f"{nm},{0.8 if nm > 600 else 0.0}" for nm in range(360, 831, 10)]
    >>> path = Path(tempfile.mkdtemp()) / "piece.csv"
    >>> _ = path.write_text("\\n".join(["wavelength_nm,transmittance", *rows]))
    >>> piece = lk.lenses.read(path, colour="red")
    >>> piece.transmittance[[240, 245, 250]].round(2)
    array([0. , 0.4, 0.8])

    Source: the file; the uncertainty is an assumption unless you give that of the measurement.
    """
    _check_material(material)
    if not 0.0 <= relative_uncertainty < 1.0:
        raise InputError("the uncertainty is not between 0 and 1", key="relative_uncertainty", expected="0.02 for 2 %")
    file = Path(path)
    curve = measured_curves.read_curve(file, what="transmittance", outside=outside)
    model = spectral_transmittance.curve_model(_loss_free(material), curve)
    scale = Belief("reading scale", 1.0, relative_uncertainty, "1", f"measured, file {file.name}", "lognormal")
    return of_model(name or file.stem, colour, model, [scale], material, [f"measured transmittance, file {file.name}"])


def passband(lens: Lens) -> tuple[float, float]:
    """The wavelengths round the brightest that pass at least half as well; a blue lens passes far red besides."""
    through = lens.transmittance * photometry.luminous_efficiency()
    brightest = int(np.argmax(through))
    # The edge of a red or amber lens is where it passes half of its plateau.
    full = lens.transmittance.max() if lens.colour in ("red", "amber") else lens.transmittance[brightest]
    shut = np.flatnonzero(lens.transmittance < 0.5 * full)
    below, above = shut[shut < brightest], shut[shut > brightest]

    def half_passed(closed: int, open_: int) -> float:
        pair = [closed, open_]
        return float(np.interp(0.5 * full, lens.transmittance[pair], grid.WAVELENGTHS[pair]))

    first = half_passed(below[-1], below[-1] + 1) if below.size else float(grid.WAVELENGTHS[0])
    last = half_passed(above[0], above[0] - 1) if above.size else float(grid.WAVELENGTHS[-1])
    return first, last
