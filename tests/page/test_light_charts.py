"""Charts: what they show is what was computed, nothing runs off the page, and colour never stands alone."""

import subprocess
import sys
import warnings
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.text import Text
from numpy.typing import NDArray
from scipy.stats import gaussian_kde
from worked_out import plan_of

import lampkit
from lampkit import conversion, numbers
from lampkit.conversion.assessment import Assessment
from lampkit.errors import InputError
from lampkit.grid import WAVELENGTHS
from lampkit.lenses import coloured_lens
from lampkit.page import circuit_pictures, colour_chart, light_charts, reading_charts, style
from lampkit.rules import colours
from lampkit.sources import filament_lamps, leds
from lampkit.statements import say

ONE_LAMP = ("through_lens", "ratio", "chromaticity")


@pytest.fixture(scope="module")
def lamps() -> dict[str, Assessment]:
    return {a.name: a for a in plan_of().assessments}


@pytest.fixture(scope="module")
def crowd() -> Assessment:
    """Seven candidates with long names, two of them alike."""
    candidates = [
        leds.coloured_led("red", luminous_flux=100, name="cluster of twenty-one emitters, all-round, left"),
        leds.coloured_led("red", luminous_flux=100, name="cluster of twenty-one emitters, all-round, right"),
        leds.coloured_led("deep red", luminous_flux=60),
        leds.coloured_led("red-orange", luminous_flux=150),
        leds.coloured_led("amber", luminous_flux=300),
        leds.white_led(2700, luminous_flux=300, name="white 2700 K"),
        leds.white_led(6500, luminous_flux=500, name="white 6500 K"),
    ]
    old = filament_lamps.filament("P21W", 13.5)
    name = "Stop lamp in the middle of the rear door, above the number plate"
    return conversion.assess(old, candidates, coloured_lens.load("red"), function="stop", draws=300, name=name)


def laid_out(figure: Figure) -> Figure:
    FigureCanvasAgg(figure).draw()
    return figure


def drawn(name: str, assessment: Assessment) -> Figure:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return laid_out(getattr(lampkit.page, f"{name}_chart")(assessment))


def lettering(figure: Figure) -> list[Text]:
    # Labels of ticks beyond the ends of an axis exist and are not drawn.
    beyond = {
        label
        for axes in figure.axes
        for axis, limits, along in ((axes.xaxis, axes.get_xlim(), 0), (axes.yaxis, axes.get_ylim(), 1))
        for label in axis.get_ticklabels()
        if not axes.axison or not axis.get_visible() or not min(limits) <= label.get_position()[along] <= max(limits)
    }
    return [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible() and t not in beyond]


def drawn_as(figure: Figure, label: str) -> list[NDArray[np.float64]]:
    """Give the lines or outlines that were drawn under a name, in inches."""
    found = []
    for patch in figure.findobj(PathPatch):
        if patch.get_label() == label:
            path = patch.get_path()
            found += np.split(path.vertices, np.flatnonzero(path.codes == Path.MOVETO)[1:])
    return found


def assert_no_text_over_another(figure: Figure, where: object) -> None:
    boxes = [(text.get_text(), Text.get_window_extent(text).padded(-0.5)) for text in lettering(figure)]
    for i, (words, box) in enumerate(boxes):
        for other, beside in boxes[:i]:
            assert not box.overlaps(beside), (where, words, other)


def assert_on_the_page(figure: Figure) -> None:
    whole = figure.bbox
    for text in lettering(figure):
        box = Text.get_window_extent(text)
        where = (text.get_text(), box.extents / figure.dpi)
        assert box.x0 >= whole.x0 - 1 and box.x1 <= whole.x1 + 1, where
        assert box.y0 >= whole.y0 - 1 and box.y1 <= whole.y1 + 1, where


@pytest.mark.parametrize("chart", ONE_LAMP)
def test_no_letter_leaves_the_page(chart: str, lamps: dict[str, Assessment], crowd: Assessment) -> None:
    for assessment in (*lamps.values(), crowd):
        figure = drawn(chart, assessment)
        assert_on_the_page(figure)
        assert_no_text_over_another(figure, assessment.name)
        smallest = min(t.get_fontsize() for t in lettering(figure))
        # Printed two beside each other on A4, a chart is 92.5 mm wide; on a phone of 390 px, a picture has 341 px.
        assert 92.5 / 25.4 / figure.get_figwidth() * smallest >= 7.5
        assert 341 / 72 / figure.get_figwidth() * smallest >= 12.0


def test_no_letter_of_the_chart_of_all_lamps_leaves_the_page(lamps: dict[str, Assessment]) -> None:
    for chosen in (0, 1, -1):
        suggested = {name: a.results[chosen] for name, a in lamps.items() if len(a.results) > abs(chosen)}
        figure = laid_out(light_charts.ratio_chart(list(lamps.values()), suggested=suggested))
        assert_on_the_page(figure)
        assert_no_text_over_another(figure, chosen)


def test_pyplot_is_never_loaded() -> None:
    code = (
        "import sys; from lampkit import conversion, lenses, sources; from lampkit.page import light_charts, style;"
        "old = sources.filament('P21W', 13.5); job = conversion.assess(old, [], lenses.load('red'), draws=50);"
        "style.svg(light_charts.through_lens_chart(job), 'x'); print('matplotlib.pyplot' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"


def area(shape: NDArray[np.float64]) -> float:
    """Area of an outline, by the shoelace formula."""
    x, y = shape.T
    return 0.5 * abs(float(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1]) + x[-1] * y[0] - x[0] * y[-1]))


def test_equal_areas_are_equal_light(crowd: Assessment) -> None:
    figure = light_charts.through_lens_chart(crowd)
    everyone = (crowd.old, *crowd.results)
    rows = drawn_as(figure, "before")
    assert len(rows) == len(everyone)
    # One scale for all: an inch squared is so much light, from the note under the chart and the width of the scale.
    (note,) = [t.get_text() for t in figure.texts if "lm/nm" in t.get_text()]
    most = float(note.split("row is ")[1].split(" lm/nm")[0])
    wide = np.ptp(rows[0][:, 0]) / 360.0
    unit = wide * light_charts.ROW / most
    for tag, before, result in zip(("F", *"1234567"), rows, everyone, strict=True):
        (after,) = drawn_as(figure, f"after {tag}")
        # One lumen before the lens; after it, the luminous transmittance. The chart leaves out 0.1 % at either end.
        assert area(before) / unit == pytest.approx(1.0, rel=0.01)
        # The chart shows the typical garage, the number is the median of the draws: 2 % for the bend between the two,
        # and three standard errors of a median, 1.25 s/sqrt(n).
        spread = np.std(np.log(result.draws["transmittance"]))
        near = 0.02 + 3.0 * 1.25 * spread / np.sqrt(result.draws["transmittance"].size)
        assert area(after) / unit == pytest.approx(float(result.luminous_transmittance[1]), rel=near)
        # Both curves are of one light, as warm as it burns: at each wavelength the lens alone stands between them.
        floor = before[0, 1]
        lit = before[:, 1] > floor + 0.05
        passed = np.interp(400.0 + (before[lit, 0] - before[0, 0]) / wide, WAVELENGTHS, crowd.lens.transmittance)
        # Drawn in hundredths of a point, each to half of one.
        assert np.allclose(after[lit, 1] - floor, passed * (before[lit, 1] - floor), atol=0.01 / 72)


def test_ratio_shows_the_intervals_on_a_logarithmic_scale(crowd: Assessment) -> None:
    figure = light_charts.ratio_chart(crowd)
    bars = [shape[:, 0] for shape in drawn_as(figure, "interval")]
    (one,) = {float(line[0, 0]) for line in drawn_as(figure, "filament")}
    numbers_below = {t.get_text(): t.get_position()[0] * figure.get_figwidth() for t in figure.texts}
    assert numbers_below["1"] == pytest.approx(one, abs=0.001)
    octave = one - numbers_below["0.5"]
    assert numbers_below["0.1"] == pytest.approx(one - octave * np.log2(10.0), abs=0.001)
    for bar, result in zip(bars, crowd.results, strict=True):
        assert [bar.min(), bar.max()] == pytest.approx(one + octave * np.log2(result.ratio[[0, 2]]), abs=0.001)
    dots = [line.get_xdata()[0] for line in figure.findobj(Line2D)]
    assert dots == pytest.approx([one + octave * np.log2(float(r.ratio[1])) for r in crowd.results], abs=0.001)


def test_what_a_bar_and_a_small_mark_are_is_said_beside_them(lamps: dict[str, Assessment]) -> None:
    shown = {name: a.results[0] for name, a in lamps.items()}
    for figure, keys in (
        (light_charts.ratio_chart(next(a for a in lamps.values() if len(a.results) > 2)), ["interval"]),
        (light_charts.ratio_chart(list(lamps.values()), suggested=shown), ["interval", "others"]),
    ):
        words = [t.get_text() for t in figure.texts]
        assert all(words.count(str(say(f"page.chart.light.{key}"))) == 1 for key in (*keys, "less", "more"))


def test_the_line_at_one_leaves_the_words_alone(lamps: dict[str, Assessment]) -> None:
    shown = {name: a.results[0] for name, a in lamps.items()}
    figure = laid_out(light_charts.ratio_chart(list(lamps.values()), suggested=shown))
    lines = [figure.dpi * line for line in drawn_as(figure, "filament")]
    assert len(lines) == len(lamps)
    for text in lettering(figure):
        box = text.get_window_extent()
        for (x, low), (_, high) in lines:
            assert not (box.x0 < x < box.x1 and box.y0 < high and box.y1 > low), text.get_text()


def test_currents_are_drawn_as_the_circuits_have_them() -> None:
    circuits = plan_of().circuits
    figure = laid_out(circuit_pictures.currents(circuits))
    assert_on_the_page(figure)
    pieces = {piece.get_label(): piece.get_path().to_polygons() for piece in figure.artists}
    bars = [float(np.ptp(bar[:, 0])) for label in ("before", "after") for bar in pieces[label]]
    expected = [float(c.change.current[j]) for j in (0, 1) for c in circuits if c.change is not None]
    told = {t.get_text(): t.get_position()[0] * figure.get_figwidth() for t in figure.texts}
    assert bars == pytest.approx([value * (told["2"] - told["0"]) / 2 for value in expected], rel=0.01)
    words = str(figure.get_label())
    assert all(c.circuit.name in words for c in circuits) and f"{expected[0]:.2f} A before" in words
    with pytest.raises(InputError, match="no circuit"):
        circuit_pictures.currents([])


def test_ratio_of_many_lamps_shows_what_is_suggested(lamps: dict[str, Assessment]) -> None:
    suggested = {name: a.results[0] for name, a in list(lamps.items())[:3]}
    figure = light_charts.ratio_chart(list(lamps.values()), suggested=suggested)
    assert len(drawn_as(figure, "interval")) == len(figure.findobj(Line2D)) == 3
    words = [t.get_text() for t in lettering(figure)]
    assert all(numbers.interval(result.ratio) in words for result in suggested.values())
    assert words.count(str(say("page.chart.light.stays"))) == len(lamps) - 3


def test_ratio_without_candidates_is_refused() -> None:
    alone = conversion.assess(filament_lamps.filament("P21W", 13.5), [], coloured_lens.load("red"), draws=50)
    with pytest.raises(InputError, match="no candidate"):
        light_charts.ratio_chart(alone)
    assert isinstance(light_charts.through_lens_chart(alone), Figure)
    assert isinstance(colour_chart.chromaticity_chart(alone), Figure)


def test_chromaticity_names_every_boundary_and_keeps_one_scale(lamps: dict[str, Assessment]) -> None:
    for assessment in lamps.values():
        figure = drawn("chromaticity", assessment)
        everyone = (assessment.old, *assessment.results)
        words = [t.get_text().replace("\n", " ") for t in lettering(figure)]
        dots = figure.findobj(Line2D)
        at = np.array([np.ravel(line.get_data()) for line in dots])
        xy = np.array([r.chromaticity for r in everyone])
        # Where the numbers of the scales stand tells the scale; it is one for x and y, and every point keeps to it.
        places = [
            sorted((float(t.get_text()), float(p)) for t, p in listed)
            for listed in (
                [(t, t.get_position()[0] * figure.get_figwidth()) for t in figure.texts if scale_number(t, "center")],
                [(t, t.get_position()[1] * figure.get_figheight()) for t in figure.texts if scale_number(t, "right")],
            )
        ]
        scales = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in ((one[0], one[-1]) for one in places)]
        assert scales[0] == pytest.approx(scales[1], rel=1e-6)
        for along, (first, scale) in enumerate(zip(places, scales, strict=True)):
            assert at[:, along] == pytest.approx(first[0][1] + scale * (xy[:, along] - first[0][0]), abs=1e-6)
        limit = assessment.colour_limit
        if limit is None:
            assert not any(word.startswith("towards") for word in words)
            assert any("no published limit" in word for word in words)
        else:
            assert {b.name.removeprefix("limit ") for b in limit.boundaries} <= set(words)
            (outline,) = drawn_as(figure, "limit")
            expected = places[0][0][1] + scales[0] * (colours.polygon(limit)[:, 0] - places[0][0][0])
            assert outline[:, 0] == pytest.approx(expected, abs=0.01 / 72)
        for tag, result in style.tagged(assessment):
            assert f"{tag} {style.called(result.source)}" in words


def scale_number(text: Text, side: str) -> bool:
    return text.get_ha() == side and text.get_text().replace(".", "").isdigit()


def test_colour_never_stands_alone() -> None:
    looks = [style.look_of(str(i)) for i in range(1, len(style.LOOKS) + 1)]
    looks.append(style.look_of("F"))
    for kind in zip(*looks, strict=True):
        assert len(set(kind)) == len(looks)
    assert style.look_of("7") == style.look_of("1")


@pytest.mark.parametrize("chart", ONE_LAMP)
def test_svg_is_well_formed_described_and_repeatable(chart: str, crowd: Assessment) -> None:
    description = f'{drawn(chart, crowd).get_label()} <&"'
    first = style.svg(getattr(lampkit.page, f"{chart}_chart")(crowd), description)
    assert first == style.svg(getattr(lampkit.page, f"{chart}_chart")(crowd), description)
    root = ElementTree.fromstring(first)
    assert root.get("role") == "img"
    assert root.get("aria-label") == description
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    links = [v for e in root.iter() for k, v in e.attrib.items() if k.endswith("href")]
    assert all(link.startswith(("#", "data:image/")) for link in links)


def test_svg_keeps_the_digits_that_are_read(crowd: Assessment) -> None:
    figure = Figure(figsize=(2, 2))
    figure.text(0.5, 0.5, "0.12345")
    root = ElementTree.fromstring(style.svg(figure, "a number"))
    assert "0.12345" in [(e.text or "").strip() for e in root.iter()]


def test_descriptions_name_every_source_and_its_number(crowd: Assessment) -> None:
    said = {}
    for chart in ONE_LAMP:
        words = said[chart] = str(drawn(chart, crowd).get_label())
        assert crowd.name in words
        assert all(result.source.name in words for result in crowd.results)
    assert numbers.interval(crowd.results[0].ratio) in said["ratio"]
    assert str(crowd.results[0].colour.statement) in said["chromaticity"]


def test_a_session_keeps_its_own_settings(crowd: Assessment) -> None:
    from matplotlib import rcParams

    before = dict(rcParams)
    colour_chart.chromaticity_chart(crowd)
    assert dict(rcParams) == before


def test_a_unit_stays_with_its_number() -> None:
    assert style.wrapped("a white LED of 2700 K", 12) == "a white LED\nof 2700 K"
    assert style.wrapped("a red LED of 2700 K", 16) == "a red LED of\n2700 K"


@pytest.mark.parametrize(("share", "words"), [(0.0815, "8.2 %"), (0.2375, "24 %"), (0.9, "90 %"), (0.0996, "10 %")])
def test_percent_has_two_digits(share: float, words: str) -> None:
    assert numbers.percent(share) == words


def test_a_density_agrees_with_the_reference_library() -> None:
    rng = np.random.default_rng(2)
    draws, weights = rng.normal(600.0, 8.0, 900), rng.uniform(0.0, 1.0, 900)
    weights, at = weights / weights.sum(), np.linspace(560.0, 640.0, 50)
    assert reading_charts.smoothed(draws, weights, at) == pytest.approx(
        gaussian_kde(draws, weights=weights)(at), rel=1e-9
    )
