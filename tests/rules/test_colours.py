"""Signal colour regions: margins, unions, outlines, required colours."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampkit import tables
from lampkit.errors import InputError
from lampkit.light import colorimetry
from lampkit.rules import colours

REGIONS = colours.colour_regions()


def name(value: object) -> str:
    return value.name if isinstance(value, colours.ColourRegion) else str(value)


coordinates = st.tuples(st.floats(0, 1), st.floats(0, 1)).map(lambda p: (p[0] * (1 - p[1]), p[1]))


def test_every_boundary_carries_its_source_and_how_it_is_known() -> None:
    for region in REGIONS:
        assert region.boundaries
        for boundary in region.boundaries:
            assert len(boundary.source.split(", ")) >= 2
            assert boundary.known in (
                "read",
                "read in a secondary text",
                "from memory",
                "computed from the corner points",
                "conflicting",
            )
            assert boundary.name.startswith("limit towards ")
            assert np.allclose(np.hypot(*boundary.normals.T), 1)


@pytest.mark.parametrize("row", tables.load("rules", "colour_corners").rows(), ids=lambda r: f"{r['rules']}")
def test_printed_corner_lies_on_a_line_or_on_the_locus(row: dict) -> None:
    region = colours.colour_region(row["rules"], row["colour"])
    point = np.array([row["x"], row["y"]])
    outline = colours.polygon(region)
    start, step = outline[:-1], np.diff(outline, axis=0)
    along = np.clip(((point - start) * step).sum(axis=1) / (step**2).sum(axis=1), 0, 1)
    distance = np.hypot(*(start + along[:, np.newaxis] * step - point).T).min()
    assert distance < 0.0012  # the corners on the locus were read off with three decimals
    assert colours.colour_margin(region, point) > -0.0005


@pytest.mark.parametrize("region", REGIONS, ids=name)
def test_outline_is_inside_and_anticlockwise(region: colours.ColourRegion) -> None:
    outline = colours.polygon(region)
    assert np.array_equal(outline[0], outline[-1])
    assert colours.colour_margin(region, np.clip(outline, 0, 1)).min() > -1e-9
    x, y = outline.T
    assert np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) > 0


@pytest.mark.parametrize("region", REGIONS, ids=name)
def test_outline_agrees_with_the_inequalities_point_by_point(region: colours.ColourRegion) -> None:
    from matplotlib.path import Path

    points = np.random.default_rng(7).uniform(0, 1, (60000, 2))
    points = points[points.sum(axis=1) < 1]
    box = colours.polygon(region)
    around = np.random.default_rng(8).uniform(box.min(axis=0) - 0.02, box.max(axis=0) + 0.02, (20000, 2))
    points = np.concatenate([points, around[(around > 0).all(axis=1) & (around.sum(axis=1) < 1)]])
    real = Path(colorimetry.spectrum_locus()).contains_points(points)
    expected = real & colours.inside(region, points)
    drawn = Path(box).contains_points(points)
    near_edge = np.abs(colours.colour_margin(region, points)) < 1e-6
    assert np.count_nonzero((expected != drawn) & ~near_edge) <= 3  # the ragged ends of the locus


def test_white_lower_edge_is_either_line_not_both() -> None:
    white = colours.colour_region("UN", "white")
    on_red_side, on_purple_side = (0.49, 0.40), (0.32, 0.30)  # each breaks the other line: 0.40 < 0.4175, 0.30 < 0.382
    assert colours.inside(white, on_red_side) and colours.inside(white, on_purple_side)
    assert not colours.inside(white, (0.40, 0.345))


def test_signal_blue_reaches_up_to_the_green_limit_left_of_x_016() -> None:
    blue = colours.colour_region("SAE J578", "blue")
    assert colours.inside(blue, (0.15, 0.27)) and not colours.inside(blue, (0.17, 0.27))


@given(coordinates)
def test_margin_is_the_distance_one_may_move(xy: tuple[float, float]) -> None:
    """Moving by less than the margin, in whatever direction, never crosses a limit (margins are 1-Lipschitz)."""
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    for region in (
        colours.colour_region("UN", "white"),
        colours.colour_region("US", "red"),
        colours.colour_region("SAE J578", "blue"),
    ):
        margin = float(colours.colour_margin(region, xy))
        moved = np.array(xy) + 0.99 * abs(margin) * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
        valid = (moved >= 0).all(axis=1) & (moved.sum(axis=1) <= 1)
        if abs(margin) > 1e-9 and valid.any():
            assert np.all(colours.inside(region, moved[valid]) == (margin > 0))


def test_margins_broadcast_and_a_single_colour_gives_plain_arrays() -> None:
    red = colours.colour_region("UN", "red")
    many = np.full((3, 4, 2), 0.3)
    assert colours.colour_margins(red, many).shape == (3, 4, len(red.boundaries))
    assert colours.colour_margin(red, [0.7, 0.3]).shape == () and isinstance(
        colours.inside(red, [0.7, 0.3]), np.ndarray
    )


def test_spectral_colours_are_judged_without_trouble_from_the_locus() -> None:
    monochromatic = colorimetry.chromaticity(np.eye(471))
    wavelength = np.arange(360, 831)
    red = wavelength[colours.inside(colours.colour_region("UN", "red"), monochromatic)]
    amber = wavelength[colours.inside(colours.colour_region("UN", "amber"), monochromatic)]
    assert red.min() == pytest.approx(610, abs=2) and red.max() >= 780
    # No spectral colour is outside red on the long side; amber ends where the locus leaves its two limits.
    assert np.array_equal(red, np.arange(red.min(), red.max() + 1))
    assert np.array_equal(amber, np.arange(amber.min(), amber.max() + 1))
    assert amber.max() < red.min()


def test_us_red_is_narrower_than_un_red() -> None:
    points = np.random.default_rng(1).uniform([0.6, 0.25], [0.74, 0.34], (5000, 2))
    points = points[points.sum(axis=1) <= 1]
    un, us = (colours.inside(colours.colour_region(r, "red"), points) for r in ("UN", "US"))
    assert np.all(un[us]) and np.count_nonzero(un & ~us) > 0


def test_older_amber_and_red_lie_within_the_present_ones() -> None:
    for colour in ("red", "amber"):
        outline = colours.polygon(colours.colour_region("UN older", colour))
        assert colours.colour_margin(colours.colour_region("UN", colour), outline).min() > -1e-9


def test_place_names_every_limit_that_is_passed() -> None:
    red, amber = colours.colour_region("UN", "red"), colours.colour_region("UN", "amber")
    well = colours.colour_place(red, (0.69, 0.30))
    assert well.inside and well.past == () and well.boundary == "limit towards purple"
    assert well.margin == pytest.approx((0.69 + 0.30 - 0.98) / np.sqrt(2))
    assert str(well.statement) == "inside by 0.007 (nearest: limit towards purple)"
    little = colours.colour_place(red, (0.655, 0.339))
    assert not little.inside and little.past == (("limit towards yellow", pytest.approx(0.004)),)
    assert str(little.statement) == "past the limit towards yellow by 0.004"
    both = colours.colour_place(red, (0.6, 0.34))
    assert [name for name, _ in both.past] == ["limit towards purple", "limit towards yellow"]
    assert both.margin == pytest.approx(-both.past[0][1]) and both.statement.key == "colour_place.past"
    assert str(both.statement).startswith("past the limit towards purple by 0.028 and the limit towards")
    assert "by less than 0.001" in str(colours.colour_place(red, (0.66, 0.3352)).statement)
    assert str(colours.colour_place(amber, (0.5511, 0.4472)).statement) == "past the limit towards green by 0.011"
    for region in REGIONS:
        for point in ((0.3, 0.3), (0.7, 0.29)):
            place = colours.colour_place(region, point)
            assert place.inside == bool(colours.inside(region, point))
            assert not {"legal", "approved", "passes"} & set(str(place.statement).split())


def test_each_of_many_draws_is_inside_or_not() -> None:
    red = colours.colour_region("UN", "red")
    draws = np.array([[0.70, 0.30], [0.65, 0.34], [0.69, 0.31], [0.5, 0.4]])
    assert colours.inside(red, draws).tolist() == [True, False, True, False]
    assert colours.inside(red, np.stack([draws, draws[::-1]])).shape == (2, 4)


def test_required_colours() -> None:
    assert colours.required_colour("stop").colours == ("red",)
    assert colours.required_colour("rear turn", "UN").colours == ("amber",)
    assert colours.required_colour("rear turn", "US").colours == ("amber", "red")
    assert "1965" in " ".join(map(str, colours.required_colour("rear turn", "UN older").notes))
    assert colours.required_colour("front turn", "UN older").colours == ("amber", "white")
    assert colours.required_colour("parking", "US").colours == ("white", "amber")
    assert colours.required_colour("tell-tale").colours == () == colours.required_colour("tell-tale").regions
    assert colours.required_colour("stop", "SAE J578").regions[0].name == "SAE J578 red"


def test_every_required_colour_has_a_region_a_source_and_a_status() -> None:
    for row in tables.load("rules", "required_colours").rows():
        found = colours.required_colour(row["function"], row["rules"])
        bounded = [colour for colour in found.colours if colour not in ("green", "selective yellow")]
        assert [r.colour for r in found.regions] == bounded and found.source and found.known
        assert ("rule_note.no_boundary" in [n.key for n in found.notes]) is (len(bounded) < len(found.colours))


def test_older_white_says_that_the_present_one_stands_in() -> None:
    found = colours.required_colour("number plate", "UN older")
    assert found.regions[0].name == "UN white" and found.notes[-1].key == "rule_note.stand_in"


def test_unknown_names_suggest_the_nearest() -> None:
    with pytest.raises(InputError, match=r"did you mean.*'rear turn'"):
        colours.required_colour("rear trun")
    with pytest.raises(InputError, match="'COLREG'"):
        colours.colour_region("COLREGS", "red")
    with pytest.raises(InputError, match="green limits exist under 'ICAO', '14 CFR', 'COLREG'"):
        colours.colour_region("UN", "green")
    with pytest.raises(InputError, match="rules"):
        colours.required_colour("stop", "COLREG")
    assert colours.colour_region("US", "yellow").colour == "amber"


@pytest.mark.parametrize("bad", [0.3, [0.3], [0.3, np.nan], [0.8, 0.4], [-0.1, 0.3], [31.0, 32.0]])
def test_bad_chromaticities(bad: object) -> None:
    with pytest.raises(InputError):
        colours.colour_margins(colours.colour_region("UN", "red"), bad)


def test_a_place_takes_one_colour() -> None:
    red = colours.colour_region("UN", "red")
    with pytest.raises(InputError, match="or inside for many"):
        colours.colour_place(red, [[0.7, 0.3], [0.6, 0.3]])


def test_nobody_can_move_a_shared_boundary() -> None:
    with pytest.raises(ValueError, match="read-only"):
        colours.colour_region("UN", "red").boundaries[0].offsets[0] = 0.4
    with pytest.raises(ValueError, match="read-only"):
        colours.colour_region("UN", "red").boundaries[0].normals[0, 1] = 0.0


def test_a_lens_of_a_colour_serves_what_may_show_it() -> None:
    red, amber, clear = (set(colours.functions_behind(one, "UN")) for one in ("red", "amber", "clear"))
    assert {"stop", "tail", "rear fog"} <= red and {"front turn", "rear turn"} <= amber
    assert {"reversing", "number plate"} <= clear and colours.functions_behind("blue", "UN") == ("beacon",)
    # A front turn lamp shows amber, which no red lens does, and a stop lamp no amber.
    assert not red & {"front turn", "reversing"} and "stop" not in amber | clear


def test_a_colour_without_a_boundary_is_told_once_and_is_no_stand_in() -> None:
    notes = {note.key for note in colours.required_colour("turn tell-tale", "UN").notes}
    assert "rule_note.no_boundary" in notes and "rule_note.stand_in" not in notes
    older = colours.required_colour("front turn", "UN older")
    (told,) = (note for note in older.notes if note.key == "rule_note.stand_in")
    # The convention of 1968 draws amber and red; white is that of the present regulations.
    assert list(told.values["colours"]) == ["white"]


def test_another_accepted_colour_behind_a_clear_lens() -> None:
    amber, white = (0.57, 0.42), (0.4476, 0.4074)  # a point of signal amber, and CIE illuminant A
    found = colours.limit_of_light("front position", "US", "clear", amber)
    assert found is not None and found.name == "US amber"
    # Its own colour, a coloured lens, and what is not told, leave the limit as it was.
    assert colours.limit_of_light("front position", "US", "clear", white) is None
    assert colours.limit_of_light("front position", "US", "amber", white) is None
    assert colours.limit_of_light(None, "US", "clear", amber) is None
    assert colours.limit_of_light("front position", None, "clear", amber) is None
    # Red is neither of the two.
    assert colours.limit_of_light("front position", "US", "clear", (0.70, 0.295)) is None


def test_a_point_on_one_boundary_and_past_another_is_past_one() -> None:
    region = colours.colour_region("UN", "white")
    on = colours.colour_place(region, (0.5, 0.44))  # the corner of y = 0.440 and x = 0.500
    assert on.inside and on.margin == 0.0 and on.past == ()
    past = colours.colour_place(region, (0.52, 0.44))
    ((name, distance),) = past.past
    assert not past.inside and name == "limit towards yellow" and distance == pytest.approx(0.02)


def test_without_rules_or_a_function_there_is_no_limit() -> None:
    found = colours.limit_for("stop", "UN", "red")
    assert found is not None and found.name == "UN red"
    assert colours.limit_for("stop", None, "red") is None and colours.limit_for(None, "UN", "red") is None


@pytest.mark.parametrize("xy", [(-1e-3, 0.5), (0.7, 0.301), (np.nan, 0.3)])
def test_what_lies_outside_the_triangle_is_no_colour(xy: tuple[float, float]) -> None:
    """x and y of a colour are not below 0, and x + y is at most 1; both ends are colours."""
    region = colours.colour_region("UN", "red")
    with pytest.raises(InputError, match="no colour"):
        colours.colour_margins(region, xy)
    assert colours.colour_margins(region, (0.7, 0.3)).shape == colours.colour_margins(region, (0.0, 1.0)).shape


def test_margins_of_un_red_by_hand() -> None:
    """UN R48: y at most 0.335 and at least 0.980 - x; the second line lies at 45 degrees."""
    region = colours.colour_region("UN", "red")
    place = colours.colour_place(region, (0.66, 0.30))
    assert place.margin == pytest.approx((0.66 + 0.30 - 0.98) / 2**0.5)
    both = colours.colour_margins(region, (0.66, 0.33))
    assert sorted(both) == pytest.approx([0.005, 0.01 / 2**0.5])


def test_a_fog_lamp_behind_a_yellow_lens_is_held_against_no_white() -> None:
    """Selective yellow is accepted beside white, UN R48, 6.3, from memory; the kit has no boundary of it."""
    for rules in ("UN", "UN 1973", "US", "Germany 1973"):
        assert colours.limit_for("front fog", rules, "amber") is None
        clear = colours.limit_for("front fog", rules, "clear")
        assert clear is not None and clear.colour == "white"
    assert colours.limit_for("rear turn", "UN", "clear") is not None, "one that shows what is held is held"
