"""What each command of the command line does; `cli` holds their options."""

import argparse
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from lampkit import tables
from lampkit.statements import Statement, named, say

if TYPE_CHECKING:
    from lampkit.measurement.fair_ratio import Comparison
    from lampkit.measurement.illuminance_log import IlluminanceLog
    from lampkit.plan.agreement import Confrontation


def lamp(given: argparse.Namespace) -> None:
    """Answer for one lamp."""
    from lampkit.vehicle import vehicle
    from lampkit.vehicle.one_lamp import one_lamp

    asked = one_lamp(
        given.lens,
        given.lamp,
        given.led,
        function=given.function,
        rules=given.rules,
        year=given.year,
        volts=given.volts,
        watts=given.watts,
        material=given.lens_material,
    )
    _check_place(given, "the lamp's page")
    wished = vehicle.asking(asked.vehicle, assurance=given.assurance, colour_share=given.colour_share)
    from lampkit.page import lamp_answer
    from lampkit.plan import causes

    found = causes.answered(replace(asked, vehicle=wished), given.draws, given.seed)
    if given.json:
        shown = json.dumps(lamp_answer.answer_as_dict(found), indent=2, allow_nan=False)
    else:
        shown = lamp_answer.answer_text(found)

    def page() -> str:
        from lampkit.page import findings, job_sheet
        from lampkit.plan import plan

        made = plan.make(wished, draws=given.draws, seed=given.seed, assessed=[found.assessment])
        return job_sheet.basis_of(findings.findings_of(made), "", found.answer.sentence)

    _give(given, shown, page, say("cli.lamp_written", file=given.output))


def _check_place(given: argparse.Namespace, what: str) -> None:
    """Refuse a place where a page that was asked for cannot be written, before a long calculation."""
    if given.output is not None:
        from lampkit.page import frame

        frame.check_place(given.output, what)


def _give(given: argparse.Namespace, shown: str, page: Callable[[], str], written: Statement) -> None:
    """Print an answer; where a page was asked for, write it before and say where it is."""
    if given.output is not None:
        from lampkit.page import frame

        frame.save(page(), given.output)
    print(shown)
    if given.output is not None:
        print(written, file=sys.stderr)


def new(given: argparse.Namespace) -> None:
    """Write the files of a vehicle to start from."""
    from lampkit.vehicle import file

    if given.like is None:
        known = [say("cli.starter", name=name, told=told) for name, told in file.starters().items()]
        print(say("cli.starters", known=known, folder=given.folder))
        return
    made = file.begin(given.folder, given.like)
    print(say("cli.new_written", file=next(path for path in made if path.suffix == ".toml"), folder=given.folder))


def faults(given: argparse.Namespace) -> None:
    """Tell what may be wrong, and what to measure."""
    from lampkit.circuits.fault_finding import known_symptom
    from lampkit.plan.faults import find_fault
    from lampkit.vehicle import vehicle

    symptom = known_symptom(given.symptom)
    found = find_fault(symptom, None if given.folder is None else vehicle.load(given.folder), given.lamp)
    _print_wrapped(say("cli.faults", symptom=named(symptom), lamp=found.lamp))
    if found.assumed is not None:
        _print_wrapped(say("cli.faults_assumed", name=found.assumed))
    if found.measured_said is not None:
        _print_wrapped(found.measured_said)
    for number, suspect in enumerate(found.suspects, start=1):
        _print_wrapped(say("cli.suspect", number=number, words=suspect.said))
    if found.telling is not None:
        _print_wrapped(found.telling.said)
    if found.sound_said is not None:
        _print_wrapped(found.sound_said)
    if found.cautions:
        _print_wrapped(say("cli.faults_caution", words=[named(one) for one in found.cautions]))


def _print_wrapped(said: object) -> None:
    """Print what is said in lines that fit a terminal."""
    from lampkit import numbers

    print("\n".join(numbers.wrap(said, 100, then="    ", words_whole=True)))


FEW = 3
"""Lamps up to which the list also says what goes in place of each [1]. Source: own judgement, one screen."""


def lamps(given: argparse.Namespace) -> None:
    """List filament lamps, and what replaces them."""
    from lampkit.sources import filament_lamps, interchange

    found = interchange.listed_lamps(given.words)
    for lamp in found:
        _print_wrapped(lamp.said)
        if len(found) <= FEW:
            fitting = interchange.replacements(lamp.designation, lamp.supply)
            if fitting:
                said = say("lamp_list.replaced_by", lamps=[one.said for one in fitting])
            else:
                said = (
                    say("lamp_list.none_listed") if lamp.base else say("lamp_list.base_needed", name=lamp.designation)
                )
            _print_wrapped(said)
            near = filament_lamps.near_equivalents(lamp.designation, lamp.supply)
            if near:
                _print_wrapped(say("lamp_list.near", names=near))
    if len(found) > FEW:
        _print_wrapped(say("lamp_list.count", number=len(found)))


def rules(given: argparse.Namespace) -> None:
    """List the published rules that the kit knows."""
    from lampkit.rules import rule_sets

    known = rule_sets.rule_sets().values()
    if given.year is not None:
        for head in (one for one in known if one.family == one.name):
            found = rule_sets.in_force(head.name, given.year)
            _print_wrapped(say("rule_set.of_year", year=given.year, family=head.name, name=found.name, told=found.told))
        return
    for one in known:
        _print_wrapped(say("rule_set.listed", name=one.name, told=one.told, road=bool(one.functions)))


def lab(given: argparse.Namespace) -> None:
    """Copy the notebooks to a folder and open them."""
    from lampkit.notebook import lab

    if not given.no_open:
        lab.refuse_missing()
    if given.port is not None and not given.no_open:
        lab.refuse_taken(given.port)
    made = lab.set_up(given.folder)
    print(say("lab.ready", **made._asdict()), flush=True)
    if not given.no_open:
        raise SystemExit(lab.start(made.folder, browser=not given.no_browser, port=given.port))


def lesson(given: argparse.Namespace) -> None:
    """Write the sheets of a lesson."""
    from lampkit.lesson import lesson_file, sheets

    told = lesson_file.load(given.name)
    which = tuple(name for name in sheets.WRITERS if getattr(given, name)) or tuple(sheets.WRITERS)
    for path in sheets.save(told, which, given.output):
        print(path)


def procedure(given: argparse.Namespace) -> None:
    """Print how to measure, with the distance that serves."""
    from lampkit.measurement.procedure import plan_measurement

    plan = plan_measurement(
        given.intensity,
        background=given.background,
        resolution=given.resolution,
        face_diameter=given.face_diameter,
        difference=given.difference,
    )
    _check_place(given, "the card")
    from lampkit.page import readings

    _give(given, readings.card_text(plan), lambda: readings.card_html(plan), say("cli.card_written", file=given.output))


def readings(given: argparse.Namespace) -> None:
    """Compare the readings of a log."""
    from lampkit.measurement import illuminance_log

    log = illuminance_log.load_log(given.file)
    from lampkit.page import data
    from lampkit.page import readings as page

    _check_place(given, "the page of the readings")
    found = _read(given, log)
    if given.json:
        shown = json.dumps({"file": str(given.file), **data.readings_as_dict(found)}, indent=2, allow_nan=False)
    else:
        shown = page.readings_text(found)
    title = str(say("cli.readings_title", file=given.file.name))
    told = say("cli.readings_written", file=given.output)
    _give(given, shown, lambda: page.readings_html(found, title), told)


def _read(given: argparse.Namespace, log: "IlluminanceLog") -> "Comparison | Confrontation":
    from lampkit.measurement import fair_ratio

    folder = given.vehicle
    if folder is None and (given.file.parent / "vehicle.toml").is_file():
        folder = given.file.parent
    if folder is None:
        return fair_ratio.compare_readings(log, draws=given.draws, seed=given.seed)
    from lampkit.plan import plan
    from lampkit.vehicle import vehicle

    known = vehicle.load(folder)
    named = {reading.lamp for reading in log.readings}
    read = tuple(lamp for lamp in known.lamps if lamp.name in named)
    # A lamp that nobody read need not be worked out.
    lamps = read if len(read) == len(named) else known.lamps
    assessments = plan.assess_lamps(known, lamps=lamps, draws=given.draws, seed=given.seed)
    _, found = plan.with_readings(known, assessments, log=log, seed=given.seed)
    assert found is not None, "a log was given"
    return found


def report(given: argparse.Namespace) -> None:
    """Plan a whole vehicle and write its job sheet."""
    target = given.output
    folder = tables.folder() / "library_van" if given.demo else given.folder
    if target is None and not given.json:
        place = folder.resolve()
        target = Path(f"{(place.parent if place.is_file() else place).name or 'vehicle'}.html")
    # The heavy libraries load after the cheap refusals.
    from lampkit.vehicle import vehicle

    read = vehicle.asking(
        vehicle.load(folder),
        assurance=given.assurance,
        colour_share=given.colour_share,
        stop_over_tail=given.stop_over_tail,
        aim=given.aim,
        alike=None if given.sides is None else given.sides == "alike",
        budget=given.budget,
    )
    if target is not None:
        from lampkit.page import frame, job_sheet

        frame.check_place(target)
        frame.check_place(job_sheet.basis_beside(target), "the basis of the job sheet")
    from lampkit.plan import causes, plan

    made = plan.make(read, draws=given.draws, seed=given.seed)
    found = causes.causes_of_plan(made) if given.causes else ()
    if given.json:
        from lampkit.page import data

        shown = json.dumps(data.plan_as_dict(made, causes=found), indent=2, allow_nan=False)
        if target is not None:
            job_sheet.save_job_sheet(made, target)
    else:
        from lampkit.page import findings, job_sheet, job_sheet_text

        gathered = findings.findings_of(made)
        doubts = ["", *(f"- {one.sentence}" for one in found)] if found else []
        shown = "\n".join([job_sheet_text.written(gathered, full=given.all), *doubts])
        if target is not None:
            job_sheet.save(gathered, target)
    print(shown)
    if target is not None:
        beside = job_sheet.basis_beside(target).name
        print(say("cli.job_sheet_written", file=target, basis=beside), file=sys.stderr)
