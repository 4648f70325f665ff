"""Signal colours: the published boundaries by name, the margin to each, and which colour a lamp asks for."""

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.light import colorimetry, outlines
from lampkit.rules import functions, rule_sets
from lampkit.statements import Statement, say


@dataclass(frozen=True, eq=False)
class Boundary:
    """One line of a colour region under its own name, with where it is printed."""

    name: str
    inequality: str
    normals: NDArray[np.float64]
    offsets: NDArray[np.float64]
    source: str
    known: str


@dataclass(frozen=True, eq=False)
class ColourRegion:
    """The colour that one set of rules calls red, amber, white, green or blue; the spectrum locus closes it."""

    rules: str
    colour: str
    boundaries: tuple[Boundary, ...]

    @property
    def name(self) -> str:
        """Word the region for a heading, as in 'UN red'."""
        return f"{self.rules} {self.colour}"


@dataclass(frozen=True, eq=False)
class RequiredColour:
    """Which colour a lamp function asks for under a set of rules, and against which regions to hold it."""

    function: str
    rules: str
    colours: tuple[str, ...]
    regions: tuple[ColourRegion, ...]
    notes: tuple[Statement, ...]
    source: str
    known: str


@dataclass(frozen=True)
class ColourPlace:
    """Where one chromaticity lies against a colour region."""

    inside: bool
    margin: float
    boundary: str
    past: tuple[tuple[str, float], ...]
    statement: Statement


STRETCH = 16384
"""Chromaticities that are held against a region at a time [1]. Source: own timing."""

ROUNDING = 1e-12
"""How far past a line rounding in the sixteenth digit may carry a printed decimal [1]."""


@cache
def colour_regions(rules: str | None = None) -> tuple[ColourRegion, ...]:
    """List the colour regions of one set of rules, or of all."""
    grouped: dict[tuple[str, str], dict[str, list[dict[str, Any]]]] = {}
    for row in tables.load("rules", "colour_boundaries").rows():
        grouped.setdefault((row["rules"], row["colour"]), {}).setdefault(row["boundary"], []).append(row)
    wanted = None if rules is None else rule_sets.rule_set(rules).colours
    return tuple(
        ColourRegion(r, colour, tuple(_boundary(name, rows) for name, rows in lines.items()))
        for (r, colour), lines in grouped.items()
        if wanted in (None, r)
    )


def _boundary(name: str, rows: list[dict[str, Any]]) -> Boundary:
    lines = np.array([[row["a"], row["b"], row["c"]] for row in rows], dtype=float)
    length = np.hypot(lines[:, 0], lines[:, 1])
    normals, offsets = lines[:, :2] / length[:, np.newaxis], lines[:, 2] / length
    # The regions are shared by everyone who asks for them.
    normals.setflags(write=False)
    offsets.setflags(write=False)
    first = rows[0]
    return Boundary(
        name=name,
        inequality=str(first["inequality"]),
        normals=normals,
        offsets=offsets,
        source=f"{first['source']}, {first['clause']}",
        known=str(first["known"]),
    )


def colour_region(rules: str, colour: str) -> ColourRegion:
    """Find the region of one colour under one set of rules.

    Parameters
    ----------
    rules : str
        A rule set, by one of its names.
    colour : str
        'red', 'amber' (or 'yellow'), 'white', 'green' or 'blue'.

    Returns
    -------
    ColourRegion
        The region.

    Raises
    ------
    InputError
        There are no such rules, or the kit holds no limits of that colour under them.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.rules.colour_region("US", "yellow").name
    'US amber'

    Source: the rules that each row of data/rules/colour_boundaries.csv names.
    """
    found = {r.colour: r for r in colour_regions(rules)}
    wanted = standard_colour(colour)
    if wanted not in found:
        elsewhere = [r.rules for r in colour_regions() if r.colour == wanted]
        raise InputError(
            f"the kit holds no '{colour}' limits under the rules '{rules}'",
            key="colour",
            expected=nearest(colour, found),
            remedy=f"{wanted} limits exist under " + ", ".join(f"'{r}'" for r in elsewhere) if elsewhere else None,
        )
    return found[wanted]


def standard_colour(word: str) -> str:
    """Give the term of the rules for a colour of light: amber for yellow, white for a clear lens."""
    listed = tables.load("rules", "colour_terms")
    return dict(zip(listed["also_called"], listed["term"], strict=True)).get(word, word)


def colour_margins(region: ColourRegion, xy: ArrayLike) -> NDArray[np.float64]:
    """Give the signed distance of chromaticities to every boundary of a region, positive on the inner side.

    Parameters
    ----------
    region : ColourRegion
        The region.
    xy : array_like, shape (..., 2) [1]
        Chromaticity x, y of CIE 1931.

    Returns
    -------
    ndarray, shape (..., b) [1]
        Distance in the x, y plane to each of the b boundaries, in the order of `region.boundaries`.

    Raises
    ------
    InputError
        The values are not chromaticities.

    Examples
    --------
    The red of UN R48 ends at y = 0.335.

    >>> import lampkit as lk
    >>> red = lk.rules.colour_region("UN", "red")
    >>> lk.rules.colour_margins(red, [[0.68, 0.315], [0.65, 0.345]]).round(3)
    array([[ 0.02 ,  0.011],
           [-0.01 ,  0.011]])

    Source: plane geometry; where either of two lines will do, the larger distance counts.
    """
    point = _chromaticities(xy)
    normals, offsets, starts = _lines(region)
    # A row for each line: sweeps along many chromaticities are faster than those across a few lines each.
    away = normals @ point.reshape(-1, 2).T
    np.subtract(offsets, away, out=away)
    if len(starts) < len(away):
        away = np.maximum.reduceat(away, starts, axis=0)
    return np.moveaxis(away.reshape(-1, *point.shape[:-1]), 0, -1)


@cache
def _lines(region: ColourRegion) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.intp]]:
    """Give normals and offsets of all lines of a region, and with which of them each boundary begins."""
    normals = np.concatenate([b.normals for b in region.boundaries])
    offsets = np.concatenate([b.offsets for b in region.boundaries])
    return normals, offsets[:, np.newaxis], np.cumsum([0, *(len(b.offsets) for b in region.boundaries)])[:-1]


def _chromaticities(xy: ArrayLike) -> NDArray[np.float64]:
    point = np.asarray(xy, dtype=float)
    if point.ndim == 0 or point.shape[-1] != 2:
        raise InputError(
            f"an array of shape {point.shape} holds no chromaticities", expected="x and y on the last axis"
        )
    # Rounding can put a colour on the locus a hair outside the triangle, which is no fault of the user.
    lowest, highest = np.min(point, initial=0.0), np.max(point[..., 0] + point[..., 1], initial=0.0)
    if not (lowest >= -1e-6 and highest <= 1.0 + 1e-6):
        raise InputError(
            "a chromaticity is no colour", key="x, y", expected="x and y from 0 to 1, with x + y at most 1"
        )
    return point


def colour_margin(region: ColourRegion, xy: ArrayLike) -> NDArray[np.float64]:
    """Give the smallest of the margins: positive inside the region, negative outside."""
    return np.asarray(colour_margins(region, xy).min(axis=-1))


def inside(region: ColourRegion, xy: ArrayLike) -> NDArray[np.bool_]:
    """Tell whether chromaticities keep to every boundary of a region; the line itself belongs to it.

    Parameters
    ----------
    region : ColourRegion
        The region.
    xy : array_like, shape (..., 2) [1]
        Chromaticity x, y of CIE 1931.

    Returns
    -------
    ndarray of bool, shape (...) [1]
        True inside.

    Raises
    ------
    InputError
        The values are not chromaticities.

    Examples
    --------
    >>> import lampkit as lk
    >>> red = lk.rules.colour_region("UN", "red")
    >>> lk.rules.inside(red, [[0.665, 0.335], [0.65, 0.345]])
    array([ True, False])

    Source: the rules print their limits as 'at least' and 'at most'.
    """
    point = np.asarray(xy, dtype=float)
    if point.ndim != 2 or len(point) <= STRETCH:
        return np.asarray(colour_margin(region, point) >= -ROUNDING)
    starts = range(0, len(point), STRETCH)
    return np.concatenate([inside(region, point[start : start + STRETCH]) for start in starts])


def colour_place(region: ColourRegion, xy: ArrayLike) -> ColourPlace:
    """Tell whether one chromaticity is inside a region, by how much, and which boundary is nearest.

    Parameters
    ----------
    region : ColourRegion
        The region.
    xy : array_like, shape (2,) [1]
        Chromaticity x, y of CIE 1931.

    Returns
    -------
    ColourPlace
        Inside or not, with the margin, its boundary, and the same as a statement.

    Raises
    ------
    InputError
        The values are not one chromaticity.

    Examples
    --------
    >>> import lampkit as lk
    >>> place = lk.rules.colour_place(lk.rules.colour_region("UN", "red"), (0.655, 0.339))
    >>> place.inside, round(place.margin, 3), place.boundary
    (False, -0.004, 'limit towards yellow')
    >>> print(place.statement)
    past the limit towards yellow by 0.004
    """
    point = _chromaticities(xy)
    if point.shape != (2,):
        raise InputError(
            f"a verdict takes one chromaticity, not an array of shape {point.shape}",
            remedy="use colour_margins or inside for many",
        )
    distances = colour_margins(region, point)
    nearest_one = int(distances.argmin())
    margin, boundary = float(distances[nearest_one]), region.boundaries[nearest_one].name
    by_name = sorted((float(d), b.name) for d, b in zip(distances, region.boundaries, strict=True) if d < -ROUNDING)
    if not by_name:
        told = say("colour_place.inside", margin=say("colour_place.distance", distance=margin), boundary=boundary)
    else:
        each = [
            say("colour_place.past_one", boundary=name, margin=say("colour_place.distance", distance=-d))
            for d, name in by_name
        ]
        told = say("colour_place.past", boundaries=each)
    return ColourPlace(
        inside=not by_name,
        margin=margin,
        boundary=boundary,
        past=tuple((name, -d) for d, name in by_name),
        statement=told,
    )


@cache
def polygon(region: ColourRegion) -> NDArray[np.float64]:
    """Give the outline of a region, closed by the spectrum locus and the purple line, for drawing it in a chart.

    Source: plane geometry; the locus is that of CIE 1931 at 1 nm.
    """
    drawn = outlines.outline(
        [boundary.normals for boundary in region.boundaries],
        [boundary.offsets for boundary in region.boundaries],
        colorimetry.spectrum_locus()[::-1],  # anticlockwise: from red over green to violet, back along the purples
    )
    drawn.setflags(write=False)
    return drawn


def functions_behind(lens_colour: str, rules: str) -> tuple[str, ...]:
    """List the functions that a lens of a colour may serve: the lens shows what the rules accept, or is clear."""
    shown = {name: tables.split_cell(row["colours"]) for name, row in _shown(rule_sets.rule_set(rules)).items()}
    own = standard_colour(lens_colour)
    return tuple(
        name
        for name, one in functions.functions().items()
        if lens_colour in one.lenses and name in shown and (own == "white" or not shown[name] or own in shown[name])
    )


def _shown(held_to: rule_sets.RuleSet) -> dict[str, dict[str, Any]]:
    """Collect what each function shows; the first set of rows that knows a function decides."""
    rows = list(tables.load("rules", "required_colours").rows())
    found: dict[str, dict[str, Any]] = {}
    for one in held_to.functions:
        for row in rows:
            if row["rules"] == one:
                found.setdefault(row["function"], row)
    return found


@cache
def required_colour(function: str, rules: str = rule_sets.USUAL) -> RequiredColour:
    """Say which colour a lamp function asks for, with the regions to hold a chromaticity against.

    Parameters
    ----------
    function : str
        A term of the trade, one of `functions.names` or of their other names, as in 'stop' or 'rear indicator'.
    rules : str
        The rules, one of `rule_sets.of_the_road`.

    Returns
    -------
    RequiredColour
        The accepted colours, the usual one first; none for a tell-tale.

    Raises
    ------
    InputError
        The function is unknown, or the rules do not deal with it.

    Examples
    --------
    >>> import lampkit as lk
    >>> turn = lk.rules.required_colour("rear indicator", "UN")
    >>> turn.function, turn.colours, turn.regions[0].name
    ('rear turn', ('amber',), 'UN amber')

    Source: the rules that each row of data/rules/required_colours.csv names.
    """
    wanted = functions.function(function).name
    held_to = rule_sets.rule_set(rules)
    rows = _shown(held_to)
    if not rows:
        raise InputError(
            f"the rules '{rules}' do not say what a lamp of a road vehicle shows",
            key="rules",
            expected=nearest(rules, rule_sets.of_the_road()),
        )
    if wanted not in rows:
        raise InputError(
            f"under the rules '{rules}' the kit holds no colour for the function '{wanted}'",
            key="function",
            expected=nearest(wanted, rows),
        )
    row = rows[wanted]
    colours = tables.split_cell(row["colours"])
    held = {r.colour: r for r in colour_regions(held_to.name)}
    others = {r.colour: r for r in colour_regions(held_to.stand_in)} if held_to.stand_in else {}
    notes = [say("rule_note.printed", words=row["note"])] if row["note"] else []
    stood_in = [colour for colour in colours if colour not in held and colour in others]
    if stood_in:
        notes.append(say("rule_note.stand_in", colours=stood_in, rules=held_to.name, others=held_to.stand_in))
    without = [colour for colour in colours if colour not in held and colour not in others]
    if without:
        notes.append(say("rule_note.no_boundary", colours=without))
    by_colour = {**others, **held}
    return RequiredColour(
        function=wanted,
        rules=held_to.name,
        colours=colours,
        regions=tuple(by_colour[colour] for colour in colours if colour in by_colour),
        notes=tuple(notes),
        source=f"{row['source']}, {row['clause']}",
        known=row["known"],
    )


def limit_of_light(function: str | None, rules: str | None, lens_colour: str, xy: ArrayLike) -> ColourRegion | None:
    """Find another accepted colour that a light shows behind a clear lens; None where the lens's own is the one."""
    if function is None or rules is None or standard_colour(lens_colour) != "white":
        return None
    own = limit_for(function, rules, lens_colour)
    if own is None or inside(own, xy):
        return None
    others = required_colour(function, rules).regions
    return next((region for region in others if region is not own and bool(inside(region, xy))), None)


def limit_for(function: str | None, rules: str | None, lens_colour: str) -> ColourRegion | None:
    """Take the accepted colour that a lens is made for; where it is made for none of them, the usual one.

    None for a usual lens of a colour that the rules accept and the kit holds no boundary of, as selective yellow.
    """
    if function is None or rules is None:
        return None
    required = required_colour(function, rules)
    wanted = standard_colour(lens_colour)
    by_colour = {region.colour: region for region in required.regions}
    if lens_colour in functions.function(function).lenses and len(by_colour) < len(required.colours):
        return by_colour.get(wanted)
    return by_colour.get(wanted, required.regions[0] if required.regions else None)
