"""Rule sets and lamp functions: every name that a row gives stands in the tables it points at."""

import pytest

from lampkit import tables
from lampkit.errors import InputError
from lampkit.rules import colours, functions, intensity_limits, limits, rule_sets

ALL = list(rule_sets.rule_sets().values())


def held(table: str) -> set[str]:
    return set(tables.load("rules", table)["rules"])


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.name)
def test_every_rule_set_points_at_rows_that_are_there(one: rule_sets.RuleSet) -> None:
    assert one.colours in held("colour_boundaries") and one.stand_in in ("", *rule_sets.rule_sets())
    assert set(one.functions) <= held("required_colours")
    assert one.intensities in ("", *held("intensity_limits")) and one.flash in ("", *held("flash_limits"))
    assert one.ratios in ("", *held("ratio_directions")) and one.period in ("", "present", "older", "later")


def test_every_row_of_a_limit_belongs_to_a_rule_set() -> None:
    for table, field in (
        ("colour_boundaries", "colours"),
        ("required_colours", "functions"),
        ("intensity_limits", "intensities"),
        ("notes", "intensities"),
        ("grids", "intensities"),
        ("usual_categories", "intensities"),
        ("flash_limits", "flash"),
        ("ratio_directions", "ratios"),
    ):
        named = [getattr(one, field) for one in ALL]
        assert held(table) <= {word for cell in named for word in ((cell,) if isinstance(cell, str) else cell)}, table


def test_sections_and_spacing_count_where_the_tables_hold_them() -> None:
    rows = tables.load("rules", "intensity_limits").rows()
    further = tables.load("rules", "further_limits").rows()
    for one in ALL:
        assert one.sections == any(row["rules"] == one.intensities and row["compartments"] > 1 for row in rows)
        assert one.spacing == any(
            row["rules"] == one.intensities and row["quantity"].startswith("spacing") for row in further
        )


def test_every_function_of_a_limit_is_a_lamp_function() -> None:
    for table in ("required_colours", "intensity_limits", "usual_categories"):
        assert set(tables.load("rules", table)["function"]) <= set(functions.names())
    assert set(tables.load("rules", "required_colours")["function"]) == {
        one.name for one in functions.functions().values() if not one.keep
    }
    named = [name for one in functions.functions().values() for name in (one.name, *one.also_called)]
    assert len(named) == len(set(named)), "one word means one function"
    assert all(one.outshines in ("", *functions.names()) for one in functions.functions().values())


def test_motorcycles_have_a_flash_rate_and_a_ratio() -> None:
    rate = next(v for v in limits.flash_limits("UN R50") if v.quantity == "flash rate")
    assert rate.rules == "UN" and "un-r48" in rate.source
    assert limits.required_ratio([0, 0], "stop to tail", "UN R50") == 5
    assert "stand in" in rule_sets.rule_set("UN R50").note


def test_other_names_are_understood_and_a_misspelling_gives_the_nearest() -> None:
    assert rule_sets.rule_set("fmvss 108").name == "US" and functions.function("brake").name == "stop"
    assert colours.required_colour("stop", "FMVSS 108").rules == "US"
    assert intensity_limits.requirement("stop", "R50").rules == "UN R50"
    with pytest.raises(InputError, match="'COLREG'"):
        rule_sets.rule_set("COLREGS")
    with pytest.raises(InputError, match="'side repeater'"):
        functions.function("side repeter")


def test_rules_without_a_limit_say_so_and_name_those_that_have_one() -> None:
    with pytest.raises(InputError, match=r"no flash limits .*'UN', 'UN older', 'UN R50', 'US', 'SAE J578', 'UN 2023'"):
        limits.flash_limits("COLREG")
    with pytest.raises(InputError, match="no intensity limits"):
        intensity_limits.requirement("stop", "ICAO")


@pytest.mark.parametrize(
    ("called", "function"),
    [
        ("Stop lamp left", "stop"),
        ("Brake light", "stop"),
        ("Rear fog lamp", "rear fog"),
        ("Nearside indicator", "rear turn"),
        ("Side repeater right", "side repeater"),
        ("Sidelight", "front position"),
        ("Rear position lamp", "tail"),
        ("Horn", None),
    ],
)
def test_the_name_of_a_lamp_suggests_its_function(called: str, function: str | None) -> None:
    found = functions.suggested_by(called)
    assert (found and found.name) == function


def test_one_rule_set_fits_each_year_of_a_family() -> None:
    heads = [one for one in ALL if one.family == one.name]
    assert {one.name for one in heads} == {"UN", "US", "UK", "Germany", "France"}
    for head in heads:
        members = [one for one in ALL if one.family == head.name]
        for year in range(1890, 2031):
            fitting = [m for m in members if (m.from_year or year) <= year <= (m.to_year or year)]
            assert len(fitting) == 1 and rule_sets.in_force(head.name, year) is fitting[0], (head.name, year)
        assert not rule_sets.in_force(head.name, 1959).binds and rule_sets.in_force(head.name, 1978).binds
    assert rule_sets.in_force("UN", None).name == "UN"
    assert rule_sets.in_force("UN older", 1959).name == "UN older", "a rule set named on purpose holds"


def test_red_rear_and_white_front_indicators_in_years_that_had_them() -> None:
    def shown(function: str, rules: str, year: int) -> tuple[str, ...]:
        return colours.required_colour(function, rule_sets.in_force(rules, year).name).colours

    assert shown("rear turn", "UN", 1959) == ("amber", "red") and shown("rear turn", "UN", 1978) == ("amber",)
    assert shown("front turn", "UN", 1959) == ("amber", "white") and shown("front turn", "UN", 1978) == ("amber",)
    assert shown("front turn", "US", 1959) == ("white", "amber") and shown("rear turn", "US", 1978) == ("amber", "red")
    # United Kingdom: 1 September 1965, and amber stop lamps until 1971; Germany: 1970 and 1983; France: order of 1954.
    assert shown("rear turn", "UK", 1964) == ("amber", "red") and shown("rear turn", "UK", 1967) == ("amber",)
    assert shown("stop", "UK", 1964) == shown("stop", "UK", 1970) == ("red", "amber") and shown("stop", "UK", 1971) == (
        "red",
    )
    assert shown("rear turn", "Germany", 1969) == ("amber", "red") and shown("rear turn", "Germany", 1970) == ("amber",)
    assert shown("stop", "Germany", 1982) == ("red", "amber") and shown("stop", "Germany", 1983) == ("red",)
    assert shown("front turn", "France", 1960) == ("amber", "white") and shown("front turn", "France", 1980) == (
        "amber",
    )
    assert shown("tail", "Germany", 1960) == ("red",), "what a national rule does not name is as under UN"
    assert shown("front position", "US", 1978) == ("white", "amber")
    assert shown("turn tell-tale", "US", 1978) == ("green", "amber")


def test_the_bench_offers_a_lens_only_what_the_rules_let_it_show() -> None:
    assert "rear turn" not in colours.functions_behind("red", "UN"), "amber only"
    assert "rear turn" in colours.functions_behind("red", "US") and "rear turn" in colours.functions_behind(
        "amber", "US"
    )
    assert "front position" in colours.functions_behind("amber", "US")
    assert "front position" not in colours.functions_behind("amber", "UN")
    behind_clear = {name for name, one in functions.functions().items() if "clear" in one.lenses}
    assert behind_clear <= set(colours.functions_behind("clear", "US")), "its colour is the lamp's"


def test_where_watts_stand_for_candela_no_candela_are_made_up() -> None:
    """Japan, as inspectors are taught (second hand): 5 to 30 W behind a tail lamp, 15 to 60 W for a turn lamp."""
    (tail,) = (v for v in limits.further_limits("Japan", "power of the light source") if v.low == 5)
    assert (tail.high, tail.unit) == (30, "W")
    assert limits.required_ratio([0, 0], "stop to tail", "Japan") == 5
    assert [(v.low, v.high) for v in limits.flash_limits("Japan")] == [(60, 120)]
    with pytest.raises(InputError, match="no candela"):
        intensity_limits.requirement("tail", "Japan")
