"""One lamp, one line: what is understood of a few words, what is answered, and in what form."""

import json
import re
from pathlib import Path

import jsonschema
import pytest

import lampkit as lk
from lampkit import cli
from lampkit.conversion import answer
from lampkit.errors import InputError
from lampkit.vehicle import one_lamp

ROOT = Path(__file__).resolve().parent.parent
STOP = ["lamp", "red", "P21W", "--led", "white 6000 K 400 lm", "--led", "red 120 lm"]


def run(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    code = cli.main(arguments)
    shown = capsys.readouterr()
    return code, shown.out, shown.err


# --- what is understood -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "keys"),
    [
        ("white 6000 K 400 lm", {"cct_K": 6000, "claimed_lumens_lm": 400}),
        ("White LED 6000K, 400 lumens", {"cct_K": 6000, "claimed_lumens_lm": 400}),
        ("red 120 lm 2,4 W", {"colour": "red", "claimed_lumens_lm": 120, "power_W": 2.4}),
        ("amber 12-24V 3 W BA15s", {"colour": "amber", "voltage_V": [12, 24], "power_W": 3, "base": "BA15s"}),
        ("625 nm 90 lm", {"peak_nm": 625, "claimed_lumens_lm": 90}),
        ("red 625 nm price 6.50", {"colour": "red", "peak_nm": 625, "price": 6.5}),
        ("warm white", {"cct_K": 2900, "cct_uncertainty_K": 250}),
        ("white", {"cct_K": 4500, "cct_uncertainty_K": 1200}),
        (
            "red-orange, either way round, all-round",
            {"colour": "red-orange", "either_polarity": True, "layout": "all-round"},
        ),
        ("green one way", {"colour": "green", "either_polarity": False}),
    ],
)
def test_a_light_source_in_a_few_words(words: str, keys: dict[str, object]) -> None:
    said = one_lamp.offer_in_words(words)
    assert said.pop("name") == " ".join(words.split())
    assert said == keys


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("pinkish 400 lm", "'pinkish' of 'pinkish 400 lm' is not understood"),
        ("red 400", "'400' of 'red 400' has no unit"),
        ("red 400 lm 300 lm", "tells the same thing twice"),
        ("red amber", "tells the same thing twice"),
        ("400 lm", "'400 lm' tells no colour"),
        ("red 24 V", "is not made for 12 V"),
        ("red 6000 K", "contradict each other"),
        ("white 12000 K", "12000 K is not modelled"),
        ("", "nothing is told"),
    ],
)
def test_what_is_not_understood_is_told_with_what_is(words: str, told: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(["lamp", "red", "P21W", "--led", words], capsys)
    assert (code, out) == (2, "") and told in err and "Traceback" not in err
    assert len(err.strip().splitlines()) == 1 and err.startswith("lampkit: --led: ")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["violet", "P21W"], "the lens colour 'violet' is unknown"),
        (["red", "P99"], "there is no filament lamp 'P99'"),
        (["red"], "neither the old lamp nor its watts are told"),
        (["red", "P21W", "--watts", "21"], "the old lamp is told twice"),
        (["red", "1157", "--volts", "6"], "no rating for 6 V"),
        (["red", "P21W", "--volts", "48"], "none of the usual supplies"),
        (["red", "P21W", "--function", "disco"], "'disco' is unknown"),
        (["red", "P21W", "--rules", "moon"], "moon"),
        (["red", "P21W", "--lens-material", "cheese"], "--lens-material: the lens material 'cheese'"),
        (["red", "P21W", "--assurance", "5"], "5 is above 0.99"),
        (["red", "P21W", "--led", "red", "--led", "red"], "stands there twice"),
    ],
)
def test_slips_are_told_in_one_sentence(arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(["lamp", *arguments], capsys)
    assert (code, out) == (2, "") and told in err and len(err.strip().splitlines()) == 1


# --- what is answered ---------------------------------------------------------------------------------------------


def test_first_a_sentence_then_a_table_that_a_terminal_holds(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(STOP, capsys)
    lines = out.splitlines()
    assert (code, err) == (0, "") and max(map(len, lines)) <= 80
    sentence = out.split("\n\n")[0].replace("\n", " ")
    found = re.fullmatch(
        r"None reaches the filament's light with 90 % assurance\. Buy a red LED of (\d+) lm or more on the box\.",
        sentence,
    )
    assert found is not None, sentence
    # As a whole vehicle tells it for the same red LED; the claim needed is that of the same kind.
    assert 200 <= int(found.group(1)) <= 280
    assert [line.split("  ")[0] for line in out.split("\n\n")[1].splitlines()[2:]] == [
        "P21W",
        "white 6000 K 400 lm",
        "red 120 lm",
    ]
    assert "--function" in out and "--volts" in out and "licensed tester" in out and "lm/W" not in out


def test_what_was_bought_by_the_advice_will_do(capsys: pytest.CaptureFixture[str]) -> None:
    """The lumens that one answer asks for are enough for the next one; a tenth less is not."""
    _, out, _ = run(STOP, capsys)
    lumens = int(re.search(r"of (\d+) lm or more", out.replace("\n", " ")).group(1))  # type: ignore[union-attr]
    _, enough, _ = run(["lamp", "red", "P21W", "--led", f"red {lumens} lm"], capsys)
    assert enough.startswith(f"Fit red {lumens} lm:")
    _, short, _ = run(["lamp", "red", "P21W", "--led", f"red {round(0.8 * lumens)} lm"], capsys)
    assert short.startswith("It does not reach the filament's light")


@pytest.mark.parametrize(
    ("arguments", "function", "part"),
    [
        (["red", "21W"], "stop", "12V 21W"),
        (["red", "R5W"], "tail", "R5W"),
        (["amber", "PY21W"], "rear turn", "PY21W"),
        (["clear", "WY5W"], "side repeater", "WY5W"),
        (["clear", "P21W"], "reversing", "P21W"),
        (["clear", "C5W"], "number plate", "C5W"),
        (["green", "T4W"], "tell-tale", "T4W"),
        (["red", "1157"], "stop", "1157 major"),
        (["red", "1157", "--function", "tail"], "tail", "1157 minor"),
        (["red", "--volts", "6", "--watts", "21"], "stop", "6V 21W"),
        (["clear", "6V 3W"], "front position", "6V 3W"),
    ],
)
def test_what_is_not_told_is_guessed_and_said(
    arguments: list[str], function: str, part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(["lamp", *arguments, "--led", "white 4000 K 300 lm", "--json", "--draws", "200"], capsys)
    told = json.loads(out)
    assert code == 0 and (told["asked"]["function"], told["asked"]["filament"]) == (function, part)
    guessed = "one_lamp.function" in {one["key"] for one in told["taken_for_granted"]}
    assert guessed == ("--function" not in arguments)


def test_numbers_keep_to_the_schema_and_to_python(capsys: pytest.CaptureFixture[str]) -> None:
    schema = json.loads((ROOT / "references" / "lamp.schema.json").read_text(encoding="utf-8"))
    for more in ([], ["--led", "amber"], ["--function", "reversing"]):
        _, out, _ = run([*STOP, *more, "--json"], capsys)
        told = json.loads(out)
        jsonschema.Draft202012Validator(schema).validate(told)
    _, out, _ = run([*STOP, "--json"], capsys)
    vehicle = one_lamp.one_lamp("red", "P21W", [STOP[4], STOP[6]]).vehicle
    sources = [offer.source for offer in vehicle.lamps[0].candidates]
    alone = lk.conversion.assess(lk.sources.filament("P21W", 13.5), sources, lk.lenses.load("red"), function="stop")
    for one, result in zip(json.loads(out)["light_sources"], alone.results, strict=True):
        # Nobody told the voltage: the middle stays, and the doubt about it widens the rest.
        low, middle, high = one["light_against_filament_1"]
        assert middle == pytest.approx(result.ratio[1], rel=0.01)
        assert result is alone.old or high - low > result.ratio[2] - result.ratio[0]
    # In Python the same sentence and table.
    _, text, _ = run(STOP, capsys)
    (job,) = lk.plan.plan.assess_lamps(vehicle)
    assert text.startswith(str(job) + "\n")


def test_wishes_count(capsys: pytest.CaptureFixture[str]) -> None:
    _, sure, _ = run(STOP, capsys)
    _, less, _ = run([*STOP, "--assurance", "0.6"], capsys)
    needed = [int(re.search(r"of (\d+) lm or", text.replace("\n", " ")).group(1)) for text in (sure, less)]  # type: ignore[union-attr]
    assert needed[1] < needed[0] and "60 % assurance" in less


def test_the_lamp_gets_a_page_of_its_own(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "stop.html"
    code, out, err = run([*STOP, "--draws", "200", "-o", str(page)], capsys)
    assert code == 0 and str(page) in err
    words = page.read_text(encoding="utf-8").replace("\N{NO-BREAK SPACE}", " ")
    assert "<h1>Stop lamp, red lens, P21W</h1>" in words
    # What is printed and the page say the same, the answer first.
    assert out.replace("\n", " ").startswith(
        re.search(r'<p class="first">(.+?)</p>', words).group(1).replace("&#39;", "'")
    )  # type: ignore[union-attr]
    intervals = re.findall(r"\d\.\d+ \(\d\.\d+ to \d\.\d+\)", out)
    assert len(intervals) == 2 and all(one in words for one in intervals)


def test_no_light_source_shows_white_behind_red() -> None:
    made = one_lamp.one_lamp("red", "P21W", ["red 400 lm"], function="reversing").lamp
    job = lk.conversion.assess(
        made.filament, [made.candidates[0].source], made.lens, function="reversing", rules="UN", draws=200
    )
    assert answer.answer(job).sentence.key == "answer.other_lens"


def test_a_colour_told_twice_is_refused_in_python_too() -> None:
    with pytest.raises(InputError, match="twice"):
        one_lamp.offer_in_words("red red-orange")


@pytest.mark.parametrize(
    ("words", "seen"), [("red 900 mcd", "900 mcd"), ("red 24 pcs LED", "24 pcs"), ("red 3cd", "3cd")]
)
def test_what_tells_no_lumens_is_refused_with_what_to_do(words: str, seen: str) -> None:
    with pytest.raises(InputError) as told:
        one_lamp.offer_in_words(words)
    assert seen in told.value.what and told.value.remedy is not None


def test_a_claim_that_cannot_be_stands_beside_the_answer_and_is_not_granted(capsys: pytest.CaptureFixture[str]) -> None:
    """2000 lm from 3 W are 667 lm/W; no white light carries as much."""
    boxed = ["lamp", "red", "P21W", "--led", "white 6000 K 2000 lm 3 W", "--led", "red 120 lm", "--draws", "200"]
    _, out, _ = run(boxed, capsys)
    before, granted = out.split("Taken for granted:")
    assert "Impossible: 2000 lm from 3 W is 667 lm/W" in " ".join(before.split()) and "667" not in granted
    _, out, _ = run([*boxed, "--json"], capsys)
    told = json.loads(out)
    assert [one["key"] for one in told["doubted_claims"]] == ["notes.claim"]
    assert "notes.claim" not in {one["key"] for one in told["taken_for_granted"]}
