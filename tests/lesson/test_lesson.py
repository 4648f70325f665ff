"""The lesson: its numbers against an independent sum, its answers and mistakes, and no answer where a pupil prints."""

import re
import tomllib
import warnings
from dataclasses import replace
from html import unescape
from itertools import pairwise
from pathlib import Path
from unittest import mock

import numpy as np
import pytest

import lampkit as lk
from lampkit import statements, tables
from lampkit.cli import main
from lampkit.errors import InputError
from lampkit.lesson import lesson_file, pictures, quantities, sheets
from lampkit.lesson.lesson_file import Question, Record, Worth

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

LESSONS = lesson_file.names()
LESSON = lesson_file.load()
ASKED = [q for name in LESSONS for s in lesson_file.load(name).sections for q in s.questions]
ROOT = Path(__file__).resolve().parents[2]


def plain(page: str) -> str:
    """What a page says and what it says to those who do not see it, without its marks."""
    page = re.sub(r"<(style|script)\b.*?</\1>", " ", page, flags=re.S)
    said = unescape(re.sub(r"<[^>]*>", " ", page) + " " + " ".join(re.findall(r'aria-label="([^"]*)"', page)))
    return said.replace("\N{NO-BREAK SPACE}", " ")


# --- an independent sum -------------------------------------------------------------------------------------------
# Tables of the open reference library alone, no array of the kit: CIE LED illuminants, V(lambda), a black body seen
# through the emissivity of tungsten, and an edge of 598 nm and 8 nm as the red preset describes itself.

NM = np.arange(380, 781)


def of_table(table: "colour.SpectralDistribution") -> np.ndarray:
    return np.interp(NM, table.wavelengths, table.values, left=0.0, right=0.0)


V = of_table(colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"])
# Emissivity of tungsten at 2800 K: 0.448 at 450 nm, 0.426 at 600 nm, 0.402 at 750 nm (De Vos 1954, from memory).
FILAMENT = (
    colour.colorimetry.planck_law(NM * 1e-9, 2812.0) / 1e12 * np.interp(NM, [450, 600, 750], [0.448, 0.426, 0.402])
)
LENS = 0.885 * np.exp(-np.log(2) * np.exp(-(NM - 598.0) / 8.0))


def led(name: str) -> np.ndarray:
    return of_table(colour.SDS_ILLUMINANTS[name])


SEEN = np.isin(NM, np.arange(400, 761))


def share(light: np.ndarray, low: float, high: float, weight: np.ndarray) -> float:
    inside = np.clip(NM - low + 0.5, 0, 1) - np.clip(NM - high + 0.5, 0, 1)
    return float((light * weight * inside).sum() / (light * weight * SEEN).sum())


def through(light: np.ndarray) -> float:
    return float((light * V * LENS).sum() / (light * V).sum())


BANDS = (400.0, 500.0, 570.0, 590.0, 610.0, 760.0)


@pytest.mark.parametrize(
    ("lamp", "spectrum", "near"),
    [("filament", FILAMENT, 0.012), ("white 2700", led("LED-B1"), 0.045), ("white 6000", led("LED-B5"), 0.06)],
)
def test_bands_agree_with_tables_of_the_reference_library(lamp: str, spectrum: np.ndarray, near: float) -> None:
    """The illuminants are of 2733 K and 6598 K, and of other makes: shares differ by some hundredths."""
    watts = [share(spectrum, a, b, np.ones_like(V)) for a, b in pairwise(BANDS)]
    lumens = [share(spectrum, a, b, V) for a, b in pairwise(BANDS)]
    np.testing.assert_allclose(quantities.watts_of(lamp), watts, atol=near)
    np.testing.assert_allclose(quantities.lumens_of(lamp), lumens, atol=near)


def test_shares_and_k_agree_with_tables_of_the_reference_library() -> None:
    assert quantities.passes("red", "filament") == pytest.approx(through(FILAMENT), rel=0.02)
    k = {name: through(led(name)) / through(FILAMENT) for name in ("LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5")}
    # Correlated colour temperatures of CIE 015:2018, table 12.2.
    for kelvin, name in ((2733, "LED-B1"), (2998, "LED-B2"), (4103, "LED-B3"), (5109, "LED-B4"), (6598, "LED-B5")):
        assert quantities.k("red", f"white {kelvin}") == pytest.approx(k[name], rel=0.10), name
    assert k["LED-B1"] > 0.9, "a warm white does not dim behind red"
    assert k["LED-B5"] < 0.6, "a cool white does"
    # A narrow band of 629 nm in the shape of Ohno 2005, (g + 2 g^5)/3; 0.4609 w is its half width at half height.
    g = np.exp(-(((NM - 629.0) * 0.4609 / np.where(NM < 629, 10.3, 6.6)) ** 2))
    assert quantities.passes("red", "red") == pytest.approx(through((g + 2 * g**5) / 3), rel=0.01)


def test_band_of_the_lens_agrees_with_its_formula() -> None:
    passed = [
        float((LENS * V)[m].sum() / V[m].sum()) for m in (np.isin(NM, np.arange(a + 1, b)) for a, b in pairwise(BANDS))
    ]
    np.testing.assert_allclose(quantities.passed("red"), passed, atol=0.01)


@pytest.mark.parametrize(
    ("nanometres", "lumens"), [(450, 26), (500, 221), (555, 683), (600, 431), (630, 181), (650, 73), (940, 0)]
)
def test_rate_of_exchange_is_the_published_table(nanometres: int, lumens: int) -> None:
    """V of CIE 1924 at these wavelengths: 0.038, 0.323, 1.000, 0.631, 0.265, 0.107, 0; times 683 lm/W."""
    assert quantities.lumens_per_watt(nanometres) == pytest.approx(lumens, abs=1.0)


@pytest.mark.parametrize(("nanometres", "degrees"), [(632, 23.3), (450, 16.3), (555, 20.3)])
def test_a_grating_obeys_its_equation(nanometres: float, degrees: float) -> None:
    assert np.sin(np.radians(quantities.grating_angle(nanometres))) * 1600 == pytest.approx(nanometres)
    assert quantities.grating_angle(nanometres) == pytest.approx(degrees, abs=0.06)


def test_middle_wave_cones_agree_with_the_reference_library() -> None:
    table = colour.colorimetry.MSDS_CMFS_LMS["Stockman & Sharpe 2 Degree Cone Fundamentals"]
    ours = tables.load("observers", "middle_wave_cone")
    np.testing.assert_allclose(ours["sensitivity"], table.values[:, 1], rtol=1e-5)
    cone = np.interp(NM, table.wavelengths, table.values[:, 1])
    white = led("LED-B4")
    behind = float((FILAMENT * LENS) @ cone / ((FILAMENT * LENS) @ V) / ((white @ cone) / (white @ V)))
    assert quantities.near_middle_cone("red", "filament") == pytest.approx(behind, rel=0.06)
    assert 0.3 < behind < 0.5


def test_filament_at_a_lower_voltage_is_the_published_law() -> None:
    """Light with the power 3.4 and current with the power 0.55 of the voltage (Fink and Beaty 1978, second hand)."""
    assert quantities.light_at_voltage(10.8) == pytest.approx(0.8**3.4, rel=0.02)
    assert quantities.current_at_voltage(10.8) == pytest.approx(0.8**0.55, rel=0.02)


def test_coins_keep_their_hundred() -> None:
    rng = np.random.default_rng(3)
    for shares in rng.dirichlet(np.ones(5), 50):
        whole = quantities.coins(shares)
        assert whole.sum() == 100
        assert np.all(np.abs(whole - 100 * shares) < 1)


def test_bands_share_out_everything() -> None:
    for lamp in ("filament", "white 6000", "red"):
        assert quantities.watts_of(lamp).sum() == pytest.approx(1.0)
        assert quantities.lumens_of(lamp).sum() == pytest.approx(1.0)
    grey = replace(lk.lenses.load("red"), transmittance=np.full(471, 0.3))
    with mock.patch.object(quantities, "lens", lambda _: grey):
        np.testing.assert_allclose(quantities.passed("grey"), 0.3)


def test_infrared_and_tilt_move_a_phones_k_as_told() -> None:
    """A ratio of ratios hardly feels a tilt; a leak in the infrared lowers it."""
    true = quantities.k("red", "white 6000")
    low, middle, high = quantities.phone_k("red", "white 6000")
    assert low < true < high
    assert middle == pytest.approx(true, rel=0.06)
    leaks = [quantities.leaking_k("red", "white 6000", leak) for leak in (0.0, 0.005, 0.01, 0.02)]
    assert leaks[0] == pytest.approx(true)
    assert np.all(np.diff(leaks) < 0)
    assert leaks[2] < 0.9 * true


# --- questions and mistakes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("question", [q for q in ASKED if not q.kept], ids=lambda q: q.key)
def test_the_right_answer_is_right_and_every_known_mistake_reveals_its_own(question: Question) -> None:
    assert lesson_file.judge(question, question.answer).worth is Worth.RIGHT
    for mistake in question.mistakes:
        judged = lesson_file.judge(question, mistake.value)
        assert judged.worth is Worth.MISTAKE, mistake.value
        assert judged.said == mistake.reveals
    if question.kind == "choice":
        assert {m.value for m in question.mistakes} | {question.answer} == set(question.options), "each option teaches"


@pytest.mark.parametrize("question", [q for q in ASKED if q.kind == "number"], ids=lambda q: q.key)
def test_a_number_is_judged_as_a_pupil_types_it(question: Question) -> None:
    right = float(question.answer)
    told = lesson_file.told(question).split(" ")[0]
    assert lesson_file.judge(question, float(told)).worth is Worth.RIGHT, "what is told as right is taken as right"
    assert lesson_file.judge(question, -0.1).said == statements.say("lesson.below_zero")
    assert lesson_file.judge(question, 1e5 * right).said == statements.say("lesson.too_high")
    if question.unit == "%":
        assert lesson_file.judge(question, right / 100).said == statements.say("lesson.in_percent")


def test_known_mistakes_are_those_that_come_up() -> None:
    """Divided upside down, multiplied, what is lost, watts for lumens."""
    known = {q.key: [float(m.value) for m in q.mistakes] for q in ASKED if q.kind == "number"}
    lens, old = lk.lenses.load("red"), lk.sources.filament("P21W", 13.5)
    white = lk.sources.white_led(6000, luminous_flux=460)
    share, share_old = (
        float(lk.light.luminous_transmittance(lens.transmittance, one.spectrum)) for one in (white, old)
    )
    for key, typed in (
        ("k_white", share_old / share),
        ("lumens_white", 460 * share / share_old),
        ("white_share", 100 * (1 - share)),
        ("blue", 32),
        ("lumens_red", 1633),
    ):
        assert min(abs(typed / value - 1) for value in known[key] if value) < 0.02, key


def test_a_table_by_hand_gives_the_right_answer() -> None:
    """With the whole numbers of the table a pupil is judged right."""
    for lamp, key in (("white 6000", "white_share"), ("filament", "filament_share")):
        (question,) = [q for q in ASKED if q.key == key]
        by_hand = sum(
            coins * percent / 100
            for coins, percent in zip(
                quantities.coins(quantities.lumens_of(lamp)), np.rint(100 * quantities.passed("red")), strict=True
            )
        )
        assert lesson_file.judge(question, by_hand).worth is Worth.RIGHT


def test_a_record_keeps_guesses_mistakes_and_tries() -> None:
    record = Record(LESSON)
    (guess,) = LESSON.section("guess").questions
    (k, *_) = LESSON.section("k").questions
    record.put(guess, "the filament", lesson_file.judge(guess, "the filament").worth)
    assert record.done(guess)
    for typed in (1.76, 3.0):
        assert not record.done(k)
        record.put(k, str(typed), lesson_file.judge(k, typed).worth)
    assert record.done(k), "after two wrong tries the answer is told"
    told = plain(sheets.record_page(record))
    assert "☐ the filament" in told
    assert "✗ 1.76" in told
    assert "Upside down" in told
    assert lesson_file.told(k) not in re.findall(r"✓ (\S+)", told)


# --- the file -----------------------------------------------------------------------------------------------------


def test_the_lesson_takes_forty_minutes_and_its_short_form_twenty() -> None:
    assert LESSON.minutes == 40
    assert LESSON.short_minutes == 20
    assert len(LESSON.half_truths) == 5


def test_numbers_are_asked_for_and_never_typed() -> None:
    """Answers are expressions; a digit after the point in the text comes from the kit or is a given."""
    for name in LESSONS:
        with (tables.folder() / "lessons" / f"{name}.toml").open("rb") as stream:
            told = tomllib.load(stream)
        for section in told["section"]:
            for question in section.get("question", ()):
                if question["kind"] == "number":
                    assert isinstance(question["answer"], str), f"{question['key']}: an answer is worked out"
                for text in (question.get("why", ""), *(m["reveals"] for m in question.get("mistake", ()))):
                    typed = re.sub(r"\{\{.*?\}\}", "", text)
                    assert not re.search(r"\d %", typed.replace("(95 %)", "")), typed


def test_a_lesson_cannot_reach_beyond_its_quantities() -> None:
    for bad in ("{{ ''.__class__.__mro__ }}", "{{ open('x') }}", "{{ passes.__globals__ }}", "{{ range(9) }}"):
        with pytest.raises(InputError):
            lesson_file.written(bad)
    with pytest.raises(InputError, match="undefined"):
        lesson_file.worked_out("secret")


def test_a_lesson_file_with_a_mistake_says_so(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    whole = (tables.folder() / "lessons" / "white_behind_red.toml").read_text(encoding="utf-8")
    for old, new, said in (
        ('kind = "choice"', 'kind = "riddle"', "no kind of question"),
        ('answer = "the red LED"', 'answer = "the moon"', "not among the options"),
        ('title = "Guess"', "", "'title' is missing"),
        ('title = "Guess"', "title = ", "not TOML"),
        ("lumens_per_watt(600)", "lumens_per_wat(600)", "lumens_per_wat"),
    ):
        file.write_text(whole.replace(old, new, 1), encoding="utf-8")
        with pytest.raises(InputError, match=said):
            lesson_file.read(file)
    with pytest.raises(InputError, match="white_behind_red"):
        lesson_file.load("white_behind_rad")


def test_every_picture_of_a_lesson_is_there_and_tells_those_who_do_not_see_it() -> None:
    for name in LESSONS:
        for section in lesson_file.load(name).sections:
            for picture in (*section.picture, *section.reveal):
                drawn = pictures.PICTURES[picture]()
                assert "<table" in drawn or re.search(r'role="img" aria-label="[^"]{30,}"', drawn), picture
                assert " id=" not in drawn, "a name would stand twice on a page"
    for text in re.findall(r">([^<]+)</text>", pictures.faces_out("the filament")):
        assert "{" not in text


# --- sheets -------------------------------------------------------------------------------------------------------


def secrets_of(lesson: lesson_file.Lesson) -> list[str]:
    """What only who answered may read: whys, what mistakes reveal, answers of half-truths, results of experiments."""
    said = [q.why for s in lesson.sections for q in s.questions if not q.kept]
    said += [m.reveals for s in lesson.sections for q in s.questions for m in q.mistakes]
    said += [card.answer for card in lesson.half_truths] + [e.doubt for e in lesson.experiments]
    return [*said, *(line for e in lesson.experiments for line in e.expected)]


@pytest.mark.parametrize("name", LESSONS)
def test_no_answer_stands_on_the_handout(name: str) -> None:
    lesson = lesson_file.load(name)
    page = plain(sheets.handout(lesson))
    for secret in secrets_of(lesson):
        assert secret not in page
    for question in (q for s in lesson.sections for q in s.questions if q.kind == "number"):
        told, right = lesson_file.told(question), float(question.answer)
        assert f" {told} " not in page, question.key
        if question.on_paper:
            alone = [float(word) for word in re.findall(r"(?<![\d.])\d+(?:\.\d+)?(?![\d.])", page)]
            assert not [v for v in alone if abs(v - right) <= 0.02 * right], question.key
    assert "is-right" not in sheets.handout(lesson)


@pytest.mark.parametrize("name", LESSONS)
def test_nothing_said_before_a_question_gives_its_answer_away(name: str) -> None:
    """What stands on the screen unasked: texts and pictures of every section, and slides as they are printed."""
    lesson = lesson_file.load(name)
    open_beats = re.sub(
        r'<div class="beat tell".*?(?=<div class="(?:beat|said|place)|</section>)',
        "",
        sheets.slides(lesson),
        flags=re.S,
    )
    unasked = " ".join(
        [*(line for s in lesson.sections for line in (*s.text, *s.screen))]
        + [plain(pictures.PICTURES[p]()) for s in lesson.sections for p in s.picture]
        + [plain(open_beats)]
    )
    for secret in secrets_of(lesson):
        assert secret not in unasked
    for question in (q for s in lesson.sections for q in s.questions if q.kind == "number"):
        assert not re.search(
            rf"(?<![\d.]){re.escape(lesson_file.told(question))}(?! less current| to )(?!\w)", unasked
        ), question.key


def test_the_teachers_page_holds_every_answer() -> None:
    page = plain(sheets.teachers_page(LESSON))
    for secret in secrets_of(LESSON):
        assert secret in page
    for question in (q for s in LESSON.sections for q in s.questions if q.kind == "number"):
        assert lesson_file.told(question) in page
    for hazard in LESSON.hazards:
        assert hazard in page


def test_sheets_agree_with_the_kit() -> None:
    """One evaluation: what page and pictures print is what the library gives."""
    page = plain(sheets.teachers_page(LESSON))
    assert f"{quantities.lumens_needed('red', 'white 6000'):.0f} lm" in page
    drawn = plain(pictures.balance())
    for lamp in ("white 6000", "white 4000", "white 2700", "red"):
        assert f"{quantities.lumens_needed('red', lamp):.0f} lm, K {quantities.k('red', lamp):.2f}" in drawn


def test_the_command_writes_what_is_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lesson", "--handout", "-o", str(tmp_path / "new")]) == 0
    assert [path.name for path in (tmp_path / "new").iterdir()] == ["white_behind_red_handout.html"]
    assert main(["lesson", "-o", str(tmp_path / "all")]) == 0
    assert {path.name.split("_")[-1] for path in (tmp_path / "all").iterdir()} == {
        "handout.html",
        "teacher.html",
        "slides.html",
    }
    assert str(tmp_path / "all" / "white_behind_red_slides.html") in capsys.readouterr().out
    assert main(["lesson", "no_such", "-o", str(tmp_path / "none")]) == 2
    assert "white_behind_red" in capsys.readouterr().err
    assert not (tmp_path / "none").exists()
    (tmp_path / "file").write_text("x")
    assert main(["lesson", "-o", str(tmp_path / "file")]) == 2
    assert "this is a file" in capsys.readouterr().err


def test_pages_need_nothing_from_elsewhere() -> None:
    for write in sheets.WRITERS.values():
        assert not re.search(r"(src|href)=|url\(|@import", write(LESSON))


def test_the_notebook_of_the_fair_comparison_holds_no_answer() -> None:
    lesson = lesson_file.load("fair_comparison")
    source = (ROOT / "notebooks" / "03_fair_comparison.ipynb").read_text(encoding="utf-8")
    for secret in secrets_of(lesson):
        assert secret not in source
    for section in lesson.sections:
        assert f'lesson.step(\\"{section.key}\\")' in source


def test_the_notebook_holds_no_answer() -> None:
    source = (ROOT / "notebooks" / "07_why_white_dims_behind_red.ipynb").read_text(encoding="utf-8")
    for secret in secrets_of(LESSON):
        assert secret not in source
    for question in (q for s in LESSON.sections for q in s.questions):
        if question.kind == "number":
            assert lesson_file.told(question) not in source
        elif question.kind == "choice" and " " in str(question.answer):  # a colour or a lamp is named in any case
            assert str(question.answer) not in source or question.kept
    for section in LESSON.sections:
        if not section.after:
            assert f"{section.title} ({section.minutes:g} minutes)" in source
        assert f'lesson.step(\\"{section.key}\\")' in source
