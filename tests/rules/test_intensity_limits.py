"""Intensity requirements, test points, ratios and flash limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampkit import tables
from lampkit.errors import InputError
from lampkit.rules import intensity_limits, light_distribution, limits
from lampkit.rules.colours import required_colour
from lampkit.rules.light_distribution import Distribution
from lampkit.rules.limits import LimitVerdict
from lampkit.statements import named

KNOWN = ("read", "read in a secondary text", "from memory", "conflicting")
TABLES = ("intensity_limits", "further_limits", "flash_limits", "light_distribution")
FORBIDDEN = ("legal", "approved", "approval", "compliant", "complies", "passes")


def all_requirements() -> list[intensity_limits.Requirement]:
    found = {}
    rows = [row for row in tables.load("rules", "intensity_limits").rows() if row["quantity"] == "minimum"]
    for row in rows:
        for colour in row["colour"].split(";"):
            key = (row["function"], row["rules"], row["category"], colour, int(row["compartments"]))
            found[key] = intensity_limits.requirement(
                row["function"],
                row["rules"],
                category=row["category"],
                colour=colour,
                compartments=int(row["compartments"]),
            )
    return list(found.values())


ALL = all_requirements()


@pytest.mark.parametrize("table", TABLES)
def test_every_number_of_a_regulation_carries_source_clause_and_status(table: str) -> None:
    for row in tables.load("rules", table).rows():
        assert row["source"] and row["clause"] and row["known"] in KNOWN, row
        assert table == "light_distribution" or row["edition"], row


def test_every_limit_of_every_requirement_says_how_it_is_known() -> None:
    listed = [v for r in ALL for v in (*r.limits, *r.field_minimum, *r.further)]
    listed += [v for rules in ("UN", "US", "UN older") for v in limits.flash_limits(rules)]
    listed += [
        v
        for pair, rules in [("stop to tail", "UN"), ("stop to tail", "US"), ("turn to position", "US")]
        for v in limits.ratio_limits(pair, rules)
    ]
    for limit in listed:
        assert limit.known in KNOWN and limit.known in str(limit.citation)
        assert limit.citation.key == ("limit.printed" if limit.known == "read" else "limit.recalled")
        assert limit.low < limit.high


def test_no_sentence_approves_anything() -> None:
    for requirement in ALL:
        held = [one.statement for one in intensity_limits.compare_on_axis(requirement, [20.0, 90.0, 400.0])]
        told = " ".join(map(str, (*held, *requirement.notes))).lower()
        assert not any(word in told.split() for word in FORBIDDEN)


def test_functions_with_limits_also_have_a_colour() -> None:
    for requirement in ALL:
        colours = required_colour(requirement.function, requirement.rules).colours
        assert requirement.colour in colours


def test_printed_group_totals_are_near_the_sums_of_their_points() -> None:
    # The print rounds: 50 stands where the points of a stop lamp add up to 52, 180 where those of a turn lamp make 181.
    seen = 0
    for requirement in ALL:
        grid = requirement.distribution
        if grid is not None and grid.group.any():
            sums = np.array([grid.minimum[grid.group == k].sum() for k in range(1, grid.group.max() + 1)])
            assert grid.group_totals.shape == sums.shape, requirement
            assert np.all(np.abs(grid.group_totals - sums) <= 4.0), (requirement.function, sums)
            seen += len(sums)
    assert seen == 5 * 3 * 5 + 2 * 5 + 4 + 6


def test_distributions_are_symmetric_and_largest_on_the_axis() -> None:
    for requirement in ALL:
        grid = requirement.distribution
        if grid is not None and requirement.category != "6":  # a lamp of the side has no left and right
            by_angle = {tuple(a): m for a, m in zip(grid.angles, grid.minimum, strict=True)}
            assert all(by_angle[(-h, v)] == m for (h, v), m in by_angle.items())
            assert by_angle[(0.0, 0.0)] == pytest.approx(requirement.minimum.low) == grid.minimum.max()


def test_a_lamp_has_the_maximum_of_one_edition() -> None:
    assert [m.high for m in intensity_limits.requirement("stop").maxima] == [260]
    assert [m.high for m in intensity_limits.requirement("stop", "UN 1990").maxima] == [185]
    assert [m.high for m in intensity_limits.requirement("stop", "UN 1973").maxima] == [100]
    assert [m.high for m in intensity_limits.requirement("stop", edition="older").maxima] == [185]
    older = intensity_limits.requirement("tail", "UN older")
    assert older.minimum.low == 4 and "rule_note.edition" in [note.key for note in older.notes]
    assert [m.high for m in intensity_limits.requirement("front turn", "UN 2023").maxima] == [1200]
    assert [m.high for m in intensity_limits.requirement("front turn", "UN").maxima] == [1000]
    assert [m.high for m in intensity_limits.requirement("tail", "UN 2023").maxima] == [17]
    assert {m.high for m in intensity_limits.requirement("stop", "UN R50").maxima} == {100, 185, 260}


def test_limits_of_another_state_stand_apart() -> None:
    def further(*asked: object, **options: object) -> dict[str, float]:
        found = intensity_limits.requirement(*asked, **options).further  # type: ignore[arg-type]
        return {limit.quantity: limit.low if np.isfinite(limit.low) else limit.high for limit in found}

    assert further("stop", category="S2") == {
        "night maximum": 260,
        "maximum of a lamp marked D": 365,
        "field minimum at night": 0.07,
    }
    assert further("rear fog") == {"apparent surface": 140, "least inside the rhombus": 75}
    for category in ("F1", "F2", "SM1", "SM2"):
        function = "rear fog" if category.startswith("F") else "side marker"
        assert "maximum of a lamp marked D" not in further(function, category=category)
    assert "maximum of a lamp marked D" not in further("daytime running")
    assert further("daytime running", "UN 2023")["maximum of a lamp marked D"] == 600
    areas = [v.low for v in intensity_limits.requirement("stop", "US").further if v.quantity == "least lens area"]
    assert areas == [5000, 2200]
    assert further("front turn", "US")["least lens area"] == 2200
    assert further("high-mounted stop", "US")["least lens area"] == 2903
    assert (
        further("tail", "US")["measuring distance"] == 3 and further("side marker", "US")["measuring distance"] == 1.2
    )


def test_an_edition_that_prints_no_limit_of_its_own_takes_the_present_one_and_says_so() -> None:
    """UN R148, table 7, stop lamp of a motorcycle (read in a secondary text): 260 cd in both series, and none older."""
    older, present = (
        intensity_limits.requirement("stop", "UN", category="MS", edition=edition) for edition in ("older", "present")
    )
    assert [one.high for one in older.maxima] == [one.high for one in present.maxima] == [260.0]
    assert [any(note.key == "rule_note.edition" for note in one.notes) for one in (older, present)] == [True, False]


def test_a_note_is_said_of_the_lamps_that_it_is_about() -> None:
    """FMVSS 108, table XIII-a (read in a secondary text): half the minima on motorcycles, of turn lamps alone."""

    def said(function: str) -> bool:
        told = intensity_limits.requirement(function, "US").notes
        return any("motorcycles" in str(note) for note in told)

    assert said("rear turn") and not said("stop")


def test_spacing_sets_the_category_or_the_factor() -> None:
    assert intensity_limits.requirement("front turn", "UN", spacing=0.02).category == "1b"
    assert intensity_limits.requirement("front turn", "UN", spacing=0.021).category == "1a"
    usual = intensity_limits.requirement("front turn", "UN", spacing=0.5)
    assert usual.category == "1"
    assert not [one for one in usual.further if "spacing" in one.quantity], "metres between lamps are no candela"
    near, far = (intensity_limits.requirement("front turn", "US", spacing=d) for d in (0.0, 1.0))
    assert near.minimum.low == 2.5 * far.minimum.low
    assert near.distribution is not None and far.distribution is not None
    assert np.allclose(near.distribution.minimum, 2.5 * far.distribution.minimum)
    assert np.allclose(near.distribution.group_totals, 2.5 * far.distribution.group_totals)


def test_a_tail_lamp_needs_only_its_totals_and_a_side_marker_every_point() -> None:
    tail, grid = grid_of("tail", "US")
    members = np.flatnonzero(grid.group == 3)
    dark = grid.minimum.copy()
    dark[members[0]], dark[members[1]] = 0.0, dark[members[1]] + dark[members[0]]
    read = light_distribution.against_grid(tail, grid.angles, dark)
    assert np.all(read.margins >= 0) and read.groups[2].verdict is LimitVerdict.INSIDE
    marker, points = grid_of("side marker", "US")
    weak = points.minimum.copy()
    weak[0] *= 0.99
    read = light_distribution.against_grid(marker, points.angles, weak)
    assert read.groups == () and np.flatnonzero(read.margins < 0).tolist() == [0]


def axis_margins(requirement: intensity_limits.Requirement, intensity: float) -> list[float]:
    """How far an intensity lies inside each limit that holds at V = 0."""
    on_axis = [limit for limit in requirement.limits if limit.v_from <= 0 < limit.v_to]
    return [min(intensity - limit.low, limit.high - intensity) for limit in on_axis]


@given(st.floats(0, 2000), st.floats(0, 2000))
def test_margins_and_sentences_agree(a: float, b: float) -> None:
    requirement = intensity_limits.requirement("stop", "UN")
    for value in (a, b):
        told = intensity_limits.compare_on_axis(requirement, value)
        for held, margin in zip(told, axis_margins(requirement, value), strict=True):
            assert held.verdict is (LimitVerdict.INSIDE if margin >= 0 else LimitVerdict.PAST)
            assert held.margin == pytest.approx(abs(margin))
    low, high = sorted((a, b))
    for held, below, above in zip(
        intensity_limits.compare_on_axis(requirement, [low, (low + high) / 2, high]),
        axis_margins(requirement, low),
        axis_margins(requirement, high),
        strict=True,
    ):
        settled = LimitVerdict.PAST if max(below, above) < 0 else LimitVerdict.NOT_SETTLED
        assert held.verdict is (LimitVerdict.INSIDE if min(below, above) >= 0 else settled)
        assert str(named(held.verdict)) in str(held.statement)


def test_elevation_decides_which_maximum_of_a_reversing_lamp_holds_on_the_axis() -> None:
    requirement = intensity_limits.requirement("reversing")
    assert len(requirement.maxima) == 3
    assert [axis_margins(requirement, cd) for cd in (100.0, 350.0)] == [[20, 200], [270, -50]]


def grid_of(function: str, rules: str) -> tuple[intensity_limits.Requirement, Distribution]:
    requirement = intensity_limits.requirement(function, rules)
    assert requirement.distribution is not None
    return requirement, requirement.distribution


def test_un_rule_every_point_counts() -> None:
    requirement, grid = grid_of("stop", "UN")
    full = light_distribution.against_grid(requirement, grid.angles, grid.minimum)
    assert np.allclose(full.margins, 0) and len(full.unread) == 0
    weak = grid.minimum.copy()
    weak[0] *= 0.9
    assert np.flatnonzero(light_distribution.against_grid(requirement, grid.angles, weak).margins < 0).tolist() == [0]


def test_us_rule_groups_count_and_a_single_point_may_fall_to_60_percent() -> None:
    requirement, grid = grid_of("stop", "US")
    members = np.flatnonzero(grid.group == 3)
    shifted = grid.minimum.copy()
    shifted[members[0]] *= 0.61
    shifted[members[1]] += 0.39 * grid.minimum[members[0]]
    told = light_distribution.against_grid(requirement, grid.angles, shifted)
    assert np.all(told.margins >= -1e-12) and told.groups[2].group == 3
    assert told.groups[2].verdict is LimitVerdict.INSIDE and told.groups[2].read == told.groups[2].points
    shifted[members[0]] = 0.59 * grid.minimum[members[0]]
    told = light_distribution.against_grid(requirement, grid.angles, shifted)
    assert np.flatnonzero(told.margins < 0).tolist() == [members[0]]
    assert told.groups[2].verdict is LimitVerdict.PAST
    assert any(str(s).startswith("group 3") and ", past the" in str(s) for s in told.statements)


def test_partial_readings_leave_groups_open_and_the_brightest_meets_the_maximum() -> None:
    requirement, _ = grid_of("stop", "US")
    told = light_distribution.against_grid(requirement, [[0, 0], [5, 0.3]], [90, 400])
    assert len(told.unread) == 17
    assert [total.verdict for total in told.groups] == [LimitVerdict.NOT_SETTLED] * 5
    words = [str(statement) for statement in told.statements]
    assert words[0].startswith("2 of the 19 test points were read [") and sum("open" in w for w in words) == 5
    assert any(w.startswith("H 5, V 0.3") and "is past the published maximum of 300 cd" in w for w in words)


def test_tail_maximum_of_the_us_is_not_applied_below_the_horizon() -> None:
    requirement, _ = grid_of("tail", "US")
    below = light_distribution.against_grid(requirement, [[0, -5]], [100.0])
    above = light_distribution.against_grid(requirement, [[0, 5]], [100.0])
    assert below.brightest == () and [held.limit.high for _, held in above.brightest] == [18]
    assert above.brightest[0][1].verdict is LimitVerdict.PAST and above.brightest[0][1].margin == pytest.approx(82)


def test_off_the_test_points_only_the_field_minimum_holds() -> None:
    requirement, _ = grid_of("stop", "UN")
    told = light_distribution.against_grid(requirement, [[30, 3], [31, 3]], [0.2, 0.4])
    assert told.minimum.tolist() == [0, 0] and np.allclose(told.margins, [-0.1, 0.1])


def test_ratio_of_stop_to_tail() -> None:
    assert limits.required_ratio([10, 5], "stop to tail", "UN") == 5
    assert limits.required_ratio([[10, 5.1], [11, 0]], "stop to tail", "UN").tolist() == [0, 0]
    assert limits.required_ratio([0, 0], "turn to position", "US").shape == ()
    points = [[0, 5], [-10, 0], [20, 5], [0, -5], [10, -5]]
    assert limits.required_ratio(points, "turn to position", "US").tolist() == [5, 3, 3, 0, 0]
    assert limits.required_ratio(points, "turn to tail", "US").tolist() == [5, 3, 3, 3, 3]
    held = limits.compare_with_limit(limits.ratio_limits("stop to tail", "US")[0], 4.0)
    assert held.verdict is LimitVerdict.PAST and held.margin == pytest.approx(1.0)


def test_flash_limits_keep_conflicts_side_by_side() -> None:
    rates = [v for v in limits.flash_limits("US") if v.quantity == "flash rate"]
    assert {(v.low, v.high) for v in rates} == {(60, 120), (90, 120)}
    starts = {v.high for v in limits.flash_limits("US") if v.quantity == "start delay"}
    assert starts == {1.0, 1.25, 1.5, 2.0}
    assert "is past the published limit for the flash rate of 60 to 120" in str(
        limits.compare_with_limit(rates[0], 150).statement
    )
    dead = next(v for v in limits.flash_limits("US") if v.quantity == "lamp failure")
    assert limits.compare_with_limit(dead, 1.0).verdict is LimitVerdict.NO_NUMBER


@pytest.mark.parametrize(
    ("arguments", "options", "words"),
    [
        (("stopp",), {}, "'stop'"),
        (("stop", "EU"), {}, "one of|did you mean"),
        (("stop", "UN"), {"category": "S9"}, "'S1'"),
        (("stop", "UN"), {"compartments": 2}, "lighted sections"),
        (("stop", "US"), {"compartments": 4}, "1 or 2 or 3"),
        (("stop", "US"), {"colour": "amber"}, "'red'"),
        (("stop", "UN"), {"edition": "1971"}, "'older' or 'present' or 'later'"),
        (("stop", "UN"), {"spacing": 0.1}, "front turn"),
        (("front turn", "US"), {"spacing": -0.1}, "metres"),
        (("front turn", "UN"), {"spacing": 0.01, "category": "1"}, "1b"),
        (("tell-tale", "UN"), {}, "holds no intensities"),
    ],
)
def test_bad_requests_say_what_to_do(arguments: tuple, options: dict, words: str) -> None:
    with pytest.raises(InputError, match=words):
        intensity_limits.requirement(*arguments, **options)


def test_bad_readings() -> None:
    requirement, _ = grid_of("stop", "UN")
    with pytest.raises(InputError, match="read twice"):
        light_distribution.against_grid(requirement, [[0, 0], [0.2, 0]], [60, 60])
    with pytest.raises(InputError, match="shape"):
        light_distribution.against_grid(requirement, [[0, 0]], [60, 60])
    with pytest.raises(InputError, match="no test points"):
        light_distribution.against_grid(intensity_limits.requirement("number plate"), [[0, 0]], [60])
    for bad in (-1.0, np.nan):
        with pytest.raises(InputError):
            intensity_limits.compare_on_axis(requirement, bad)
    with pytest.raises(InputError):
        intensity_limits.compare_on_axis(requirement, [80, 70, 60])
    with pytest.raises(InputError):
        limits.flash_limits("EU")
    with pytest.raises(InputError):
        limits.ratio_limits("turn to position", "UN")
    with pytest.raises(InputError):
        limits.required_ratio([0, 0, 0])
