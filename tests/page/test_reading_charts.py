"""Charts of readings: they show what was computed, every axis has its unit, nothing runs off the page or overlaps."""

import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline
from matplotlib.text import Text
from numpy.typing import NDArray
from worked_out import plan_of

from lampkit.errors import InputError
from lampkit.lenses import coloured_lens
from lampkit.measurement import fair_ratio, lens_identification
from lampkit.measurement.fair_ratio import Comparison
from lampkit.page import reading_charts, reading_findings
from lampkit.page.style import svg
from lampkit.plan.agreement import Confrontation


@pytest.fixture(scope="module")
def found() -> Confrontation:
    made = plan_of().readings
    assert made is not None and made.comparison is not None and made.lenses
    return made


@pytest.fixture(scope="module")
def extreme(tmp_path_factory: pytest.TempPathFactory) -> Comparison:
    """A ratio without an upper limit, one far below the scale, and names that fill the page."""
    log = tmp_path_factory.mktemp("log") / "log.csv"
    log.write_text(
        "lamp,source,state,illuminance_lx,distance_m\nTail,old,off,90,1\nTail,old,on,91,1\nTail,old,off,80,1\n"
        "Tail,new,on,20000,1\nTail,new,off,85,1\n"
        "Stop lamp in the middle of the rear door above the number plate,old,on,30000,1\n,,off,85.0,1\n"
        "Stop lamp in the middle of the rear door above the number plate,cluster of twenty-one emitters,on,85.4,1\n",
        encoding="utf-8",
    )
    return fair_ratio.compare_readings(str(log), draws=300)


def every(found: Confrontation) -> list[tuple[Callable[..., Figure], Any]]:
    assert found.comparison is not None
    listed: list[tuple[Callable[..., Figure], Any]] = [
        (reading_charts.fair_ratios, found.comparison), (reading_charts.measured_against_predicted, found),
    ]  # fmt: skip
    for f in found.findings:
        listed += [(reading_charts.split, f.blame), (reading_charts.contributions_chart, f.ratio.budget)]
    listed += [(reading_charts.lens_knowledge, known.knowledge) for known in found.lenses]
    return listed


def lettering(figure: Figure) -> list[Text]:
    return [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible()]


def assert_legible(figure: Figure) -> None:
    FigureCanvasAgg(figure).draw()
    texts = lettering(figure)
    boxes = [Text.get_window_extent(t) for t in texts]
    for text, box in zip(texts, boxes, strict=True):
        # On a phone of 390 px a page has 342 px for a picture, which has 96 px an inch: 12 px are 9 pt.
        assert text.get_fontsize() * min(1.0, 342 / 96 / figure.get_figwidth()) >= 9
        assert box.x0 >= -1 and box.x1 <= figure.bbox.x1 + 1 and box.y0 >= -1 and box.y1 <= figure.bbox.y1 + 1, text
    for i, one in enumerate(boxes):
        for j, other in enumerate(boxes[:i]):
            width = min(one.x1, other.x1) - max(one.x0, other.x0)
            height = min(one.y1, other.y1) - max(one.y0, other.y0)
            assert width <= 1 or height <= 1, (texts[i].get_text(), texts[j].get_text())


def test_nothing_overlaps_or_leaves_the_page(found: Confrontation, extreme: Comparison) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for draw, what in every(found):
            assert_legible(draw(what))
        assert_legible(reading_charts.fair_ratios(extreme))
        assert_legible(reading_charts.contributions_chart(extreme.ratios[0].budget))


def test_scales_are_named_with_units(found: Confrontation) -> None:
    for draw, what in every(found):
        # A ratio is told as times or as a factor of one thing over another, everything else has its unit.
        told = [t.get_text() for t in draw(what).texts]
        assert any(words.endswith("]") or words.startswith("times") for words in told)
    told = [t.get_text() for t in reading_charts.lens_knowledge(found.lenses[0].knowledge).texts]
    assert "share of light passed" in told and "edge wavelength: how probable" in told


def test_every_chart_has_its_words(found: Confrontation) -> None:
    for draw, what in every(found):
        figure = draw(what)
        words = str(figure.get_label())
        assert len(words) > 40 and words.endswith(".")
        assert 'aria-label="' in svg(figure, words)


def drawn(figure: Figure, label: str) -> list[NDArray[np.float64]]:
    """The outlines of what is drawn under a name, in inches."""
    return [
        part
        for piece in figure.artists
        if isinstance(piece, PathPatch) and piece.get_label() == label
        for part in np.split(piece.get_path().vertices, np.flatnonzero(piece.get_path().codes == Outline.MOVETO)[1:])
    ]


def ratios_at(figure: Figure, inches: NDArray[np.float64]) -> NDArray[np.float64]:
    """Read ratios off the numbers under a chart."""
    numbers = {
        float(t.get_text()): t.get_position()[0] for t in figure.texts if t.get_text().replace(".", "").isdigit()
    }
    (low, left), *_, (high, right) = sorted(numbers.items())
    share = (np.asarray(inches) / figure.get_figwidth() - left) / (right - left)
    return np.asarray(low * (high / low) ** share)


def test_bars_are_the_intervals_on_a_logarithmic_scale(found: Confrontation) -> None:
    assert found.comparison is not None
    figure = reading_charts.measured_against_predicted(found)
    for kind, limits in (
        ("strong", [f.ratio.ratio for f in found.findings]),
        ("faint", [f.predicted for f in found.findings]),
    ):
        ends = np.array([bar[:, 0] for bar in drawn(figure, kind)])
        assert ratios_at(figure, ends) == pytest.approx(np.array(limits)[:, [0, 2]], rel=0.002)
    figure = reading_charts.fair_ratios(found.comparison)
    (diamonds,) = [line for line in figure.findobj(Line2D) if line.get_marker() == "D"]
    naive = [r.naive for r in found.comparison.ratios]
    assert ratios_at(figure, diamonds.get_xdata()) == pytest.approx(naive, rel=0.002)


def test_every_mark_has_its_name_beside_it_and_no_legend(found: Confrontation) -> None:
    for figure in (reading_charts.split(found.findings[0].blame), reading_charts.measured_against_predicted(found)):
        assert not figure.legends
        names = [t for t in figure.texts if t.get_va() == "center"]
        marks = [y for line in figure.findobj(Line2D) if line.get_marker() in ("o", "s") for y in line.get_ydata()]
        heights = sorted(t.get_position()[1] * figure.get_figheight() for t in names)
        assert heights == pytest.approx(sorted(marks))


def test_looks_differ_without_colour() -> None:
    assert len({(m["marker"], m["linewidth"]) for m in reading_charts.MARKS.values()}) == len(reading_charts.MARKS)
    filled = {kind for kind, m in reading_charts.MARKS.items() if m["markerfacecolor"] == m["color"]}
    assert filled == {"strong"}


def test_a_ratio_without_an_upper_limit_ends_in_an_arrow(extreme: Comparison) -> None:
    unbounded = next(r for r in extreme.ratios if r.unbounded)
    figure = reading_charts.fair_ratios(extreme)
    assert any(line.get_marker() == ">" for line in figure.findobj(Line2D))
    words = reading_findings.ratio_words(unbounded.ratio)
    assert words.key == "page.ratio.open" and str(words) in str(figure.get_label())


def test_the_edge_of_the_lens_is_drawn_narrower_after_the_readings(found: Confrontation) -> None:
    knowledge = found.lenses[0].knowledge
    figure = reading_charts.lens_knowledge(knowledge)
    (_, first), (_, then) = (drawn(figure, kind) for kind in ("before", "after"))
    assert np.ptp(then[:, 1]) > 1.2 * np.ptp(first[:, 1])
    # Both densities have the area one, so both fill as much paper; the tails beyond the drawing are small.
    one, other = (abs(x @ np.roll(y, -1) - np.roll(x, -1) @ y) for x, y in (first.T, then.T))
    assert one == pytest.approx(other, rel=0.04)


def test_a_lens_without_an_edge_and_one_without_doubt() -> None:
    for lens in (coloured_lens.neutral(0.9), coloured_lens.neutral(0.9, relative_spread=0.0)):
        knowledge = lens_identification.believed_lens(lens, draws=200)
        figure = reading_charts.lens_knowledge(knowledge)
        assert_legible(figure)
        assert lens.name in str(figure.get_label())


def test_nothing_to_draw() -> None:
    with pytest.raises(InputError, match="no lamp was read with two light sources"):
        reading_charts.measured_against_predicted(Confrontation(None, (), (), ()))


def test_charts_can_be_kept_as_pictures(found: Confrontation, tmp_path: Path) -> None:
    for i, (draw, what) in enumerate(every(found)[:4]):
        draw(what).savefig(tmp_path / f"{i}.png", dpi=60)
        assert (tmp_path / f"{i}.png").stat().st_size > 2000
