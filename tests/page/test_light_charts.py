"""Charts: what they show is what was computed, nothing runs off the page, and colour never stands alone."""

import subprocess
import sys
import warnings
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.text import Text
from scipy.stats import gaussian_kde

import lampkit
from lampkit import conversion, numbers
from lampkit.conversion.assessment import Assessment
from lampkit.errors import InputError
from lampkit.grid import WAVELENGTHS
from lampkit.lenses import coloured_lens
from lampkit.page import circuit_pictures, colour_chart, lens_chart, light_charts, style
from lampkit.plan import plan
from lampkit.rules import colours
from lampkit.sources import filament_lamps, leds
from lampkit.statements import say
from lampkit.vehicle import vehicle

VAN = Path(__file__).resolve().parents[2] / "data" / "library_van"
DESCRIBED = {
    "through_lens": light_charts.describe_through_lens,
    "ratio": light_charts.describe_ratio,
    "chromaticity": colour_chart.describe_chromaticity,
}
ONE_LAMP = tuple(DESCRIBED)


@pytest.fixture(scope="module")
def lamps() -> dict[str, Assessment]:
    made = plan.make(vehicle.load(VAN), draws=300)
    return {a.name: a for a in made.assessments}


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
        # Printed two beside each other on A4, a chart is 92.5 mm wide.
        printed = 92.5 / 25.4 / style.WIDTH
        assert printed * min(t.get_fontsize() for t in lettering(figure)) >= 7.5


def test_no_letter_of_the_other_charts_leaves_the_page(lamps: dict[str, Assessment], crowd: Assessment) -> None:
    assert_on_the_page(laid_out(light_charts.ratio_chart(list(lamps.values()))))
    for result in (crowd.old, *crowd.results):
        assert_on_the_page(laid_out(light_charts.emission_lens_light(result.source, crowd.lens)))


def test_pyplot_is_never_loaded() -> None:
    code = (
        "import sys; from lampkit import lenses, sources; from lampkit.page import light_charts, style;"
        "f = light_charts.emission_lens_light(sources.filament('P21W', 13.5), lenses.load('red'));"
        "style.svg(f, 'x'); print('matplotlib.pyplot' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"


def area(figure_area: PolyCollection) -> float:
    """Area under the upper edge of a filled curve, by the shoelace formula."""
    x, y = figure_area.get_paths()[0].vertices.T
    return 0.5 * abs(float(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1])))


def test_equal_areas_are_equal_light(crowd: Assessment) -> None:
    figure = light_charts.through_lens_chart(crowd)
    filled = [[c for c in axes.collections if isinstance(c, PolyCollection)] for axes in figure.axes]
    rows = [collections for collections in filled if collections]
    everyone = (crowd.old, *crowd.results)
    assert len(rows) == len(everyone)
    for collections, result in zip(rows, everyone, strict=True):
        # One lumen before the lens; after it, the luminous transmittance. The chart leaves out 0.1 % at either end.
        assert area(collections[0]) == pytest.approx(1.0, rel=0.01)
        # The chart shows the typical garage, the number is the median of the draws: 2 % for the bend between the two,
        # and three standard errors of a median, 1.25 s/sqrt(n).
        spread = np.std(np.log(result.draws["transmittance"]))
        near = 0.02 + 3.0 * 1.25 * spread / np.sqrt(result.draws["transmittance"].size)
        assert area(collections[1]) == pytest.approx(float(result.luminous_transmittance[1]), rel=near)
        # Both curves are of one light, as warm as it burns: at each wavelength the lens alone stands between them.
        before, after = (c.get_paths()[0].vertices for c in collections[:2])
        lit = before[:, 1] > 1e-6
        passed = np.interp(before[lit, 0], WAVELENGTHS, crowd.lens.transmittance)
        assert np.allclose(after[lit, 1] / before[lit, 1], passed, rtol=1e-6)
    scales = {axes.get_ylim() for axes, collections in zip(figure.axes, filled, strict=True) if collections}
    assert len(scales) == 1, "the panels share one scale"


def test_ratio_shows_the_intervals_on_a_logarithmic_scale(crowd: Assessment) -> None:
    axes = light_charts.ratio_chart(crowd).axes[0]
    assert axes.get_xscale() == "log"
    bars = [tuple(line.get_xdata()) for line in axes.lines if len(line.get_xdata()) == 2]
    for result in crowd.results:
        assert tuple(result.ratio[[0, 2]]) in bars
    assert (1.0, 1.0) in bars or [1, 1] in [list(b) for b in bars], "no line at the filament's light"


def test_the_line_at_one_leaves_the_names_alone(lamps: dict[str, Assessment]) -> None:
    shown = {name: a.results[0] for name, a in lamps.items()}
    figure = laid_out(light_charts.ratio_chart(list(lamps.values()), suggested=shown))
    axes = figure.axes[0]
    names = [t for t in axes.texts if t.get_text().replace("\n", " ") in lamps]
    assert len(names) == len(lamps)
    lines = [line.get_window_extent() for line in axes.lines if list(line.get_xdata()) == [1.0, 1.0]]
    assert len(lines) == len(lamps)
    for text in names:
        box = text.get_window_extent()
        assert not any(box.y0 < line.y1 and box.y1 > line.y0 for line in lines), text.get_text()


def test_currents_are_drawn_as_the_circuits_have_them() -> None:
    circuits = plan.make(vehicle.load(VAN), draws=100).circuits
    figure = laid_out(circuit_pictures.currents(circuits))
    assert_on_the_page(figure)
    bars = [patch.get_width() for patch in figure.axes[0].patches]
    expected = [float(c.change.current[j]) for j in (0, 1) for c in circuits if c.change is not None]
    assert bars == pytest.approx(expected)
    words = str(circuit_pictures.describe_currents(circuits))
    assert all(c.circuit.name in words for c in circuits) and f"{expected[0]:.2f} A before" in words
    with pytest.raises(InputError, match="no circuit"):
        circuit_pictures.currents([])


def test_ratio_of_many_lamps_shows_what_is_suggested(lamps: dict[str, Assessment]) -> None:
    suggested = {name: a.results[0] for name, a in list(lamps.items())[:3]}
    figure = light_charts.ratio_chart(list(lamps.values()), suggested=suggested)
    bars = [tuple(line.get_xdata()) for line in figure.axes[0].lines if len(line.get_xdata()) == 2]
    assert all(tuple(result.ratio[[0, 2]]) in bars for result in suggested.values())
    words = [t.get_text() for t in lettering(figure)]
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
        axes = figure.axes[0]
        words = {t.get_text().replace("\n", " ") for t in lettering(figure)}
        limit = assessment.colour_limit
        if limit is None:
            assert not any(word.startswith("limit towards") for word in words)
            assert any("no published limit" in word for word in words)
        else:
            assert {b.name for b in limit.boundaries} <= words
            outlines = [line.get_xydata() for line in axes.lines]
            expected = colours.polygon(limit)
            assert any(o.shape == expected.shape and np.allclose(o, expected) for o in outlines)
        box = axes.get_window_extent()
        wide, high = np.ptp(axes.get_xlim()), np.ptp(axes.get_ylim())
        assert wide / high == pytest.approx(box.width / box.height, rel=1e-6)
        shown = {tuple(line.get_xydata()[0]) for line in axes.lines if len(line.get_xydata()) == 1}
        assert {tuple(r.chromaticity) for r in (assessment.old, *assessment.results)} <= shown


def test_tags_on_the_chart_do_not_cover_each_other(lamps: dict[str, Assessment], crowd: Assessment) -> None:
    for assessment in (*lamps.values(), crowd):
        figure = drawn("chromaticity", assessment)
        tags = [t for t in lettering(figure) if t.axes is figure.axes[0] and len(t.get_text()) == 1]
        assert len(tags) == 1 + len(assessment.results)
        # The letters alone, without the line to the point.
        boxes = [Text.get_window_extent(t) for t in tags]
        for i, a in enumerate(boxes):
            assert not any(a.overlaps(b) for b in boxes[:i]), assessment.name


def test_colour_never_stands_alone() -> None:
    looks = [style.look_of(str(i)) for i in range(1, len(style.LOOKS) + 1)]
    looks.append(style.look_of("F"))
    for kind in zip(*looks, strict=True):
        assert len(set(kind)) == len(looks)
    assert style.look_of("7") == style.look_of("1")


@pytest.mark.parametrize("chart", ONE_LAMP)
def test_svg_is_well_formed_described_and_repeatable(chart: str, crowd: Assessment) -> None:
    description = f'{DESCRIBED[chart](crowd)} <&"'
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
    for chart in ONE_LAMP:
        words = str(DESCRIBED[chart](crowd))
        assert crowd.name in words
        assert all(result.source.name in words for result in crowd.results)
    assert numbers.interval(crowd.results[0].ratio) in str(light_charts.describe_ratio(crowd))
    assert str(crowd.results[0].colour.statement) in str(colour_chart.describe_chromaticity(crowd))
    source = crowd.results[-1].source
    assert light_charts.describe_emission_lens_light(source, crowd.lens).values["flux"] == 500


def test_a_session_keeps_its_own_settings(crowd: Assessment) -> None:
    from matplotlib import rcParams

    before = dict(rcParams)
    colour_chart.chromaticity_chart(crowd)
    assert dict(rcParams) == before


def test_a_unit_stays_with_its_number() -> None:
    assert "2700\N{NO-BREAK SPACE}K" in style.wrapped("a white LED of 2700 K", 12)


@pytest.mark.parametrize(("share", "words"), [(0.0815, "8.2 %"), (0.2375, "24 %"), (0.9, "90 %"), (0.0996, "10 %")])
def test_percent_has_two_digits(share: float, words: str) -> None:
    assert numbers.percent(share) == words


def test_a_density_agrees_with_the_reference_library() -> None:
    rng = np.random.default_rng(2)
    draws, weights = rng.normal(600.0, 8.0, 900), rng.uniform(0.0, 1.0, 900)
    weights, at = weights / weights.sum(), np.linspace(560.0, 640.0, 50)
    assert lens_chart.smoothed(draws, weights, at) == pytest.approx(gaussian_kde(draws, weights=weights)(at), rel=1e-9)
