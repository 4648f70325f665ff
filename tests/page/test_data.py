"""Plain data keep to the form that is written down, which a program can rely on."""

import functools
import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from worked_out import EVERY, SMALL, plan_of

from lampkit import statements
from lampkit.cli import main
from lampkit.page.data import plan_as_dict

ROOT = Path(__file__).resolve().parents[2]
LOGS = tuple(folder for folder in EVERY if (folder / "readings.csv").is_file())


@functools.cache
def form(name: str) -> Draft202012Validator:
    schema = json.loads((ROOT / "references" / f"{name}.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def asked(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> Any:
    assert main([*map(str, arguments), "--json", "--draws", "100"]) == 0
    return json.loads(capsys.readouterr().out)


def faults(name: str, data: Any) -> list[str]:
    return [f"{error.json_path}: {error.message[:200]}" for error in form(name).iter_errors(data)]


def said(held: Any) -> list[dict[str, Any]]:
    """Every sentence of some data, and every sentence inside it."""
    if isinstance(held, list):
        return [found for value in held for found in said(value)]
    if not isinstance(held, dict):
        return []
    inner = [found for value in held.values() for found in said(value)]
    return [held, *inner] if set(held) == {"key", "values", "text"} else inner


def report(folder: Path) -> Any:
    return json.loads(json.dumps(plan_as_dict(plan_of(folder, 100))))


def test_the_command_prints_these_data(capsys: pytest.CaptureFixture[str]) -> None:
    assert asked(capsys, "report", SMALL) == report(SMALL)


@pytest.mark.parametrize("folder", EVERY, ids=lambda folder: folder.name)
def test_a_report_keeps_to_its_form(folder: Path) -> None:
    data = report(folder)
    assert not faults("report", data)
    sentences = said(data)
    assert len(sentences) > 50
    for sentence in sentences:
        assert sentence["key"] in statements.words().sources
        assert sentence["text"] or not sentence["values"]


@pytest.mark.parametrize("folder", LOGS, ids=lambda folder: folder.name)
def test_readings_keep_to_their_form(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert not faults("readings", asked(capsys, "readings", folder / "readings.csv"))
    alone = tmp_path / "readings.csv"
    alone.write_bytes((folder / "readings.csv").read_bytes())
    assert not faults("readings", asked(capsys, "readings", alone))


@pytest.mark.parametrize(
    ("steps", "value"),
    [
        (("seed",), "one"),
        (("lamps", 0, "candidates", 0, "k_1"), [0.1, 0.2]),
        (("lamps", 0, "filament", "colour_verdict"), "inside"),
        (("lamps", 0, "suggestion", "verdict", "key"), "no key"),
        (("choice", "price"), "much"),
        (("new",), 1),
    ],
    ids=["seed", "interval", "colour", "key", "price", "more"],
)
def test_the_form_refuses_what_it_does_not_hold(steps: tuple[Any, ...], value: Any) -> None:
    data = report(SMALL)
    *way, last = steps
    held = data
    for step in way:
        held = held[step]
    held[last] = value
    assert len(faults("report", data)) >= 1


def test_a_colour_stands_with_its_boundary_and_margin() -> None:
    data = report(SMALL)
    for lamp in data["lamps"]:
        for source in (lamp["filament"], *lamp["candidates"]):
            if lamp["colour_limit"] is None:
                assert source["colour_boundary"] is source["colour_margin_1"] is None
                continue
            assert source["colour_boundary"] in [b["name"] for b in lamp["colour_limit"]["boundaries"]]
            inside = source["colour_verdict"]["key"] == "colour_place.inside"
            assert inside == (source["colour_margin_1"] >= 0)
