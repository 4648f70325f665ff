"""The command line: one function for each command, messages on stderr, exit code 2 for input that cannot be used."""

import argparse
import json
import os
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import lampkit
from lampkit import arguments, progress, statements, tables
from lampkit.errors import InputError, harmless, in_short, missing_library
from lampkit.statements import named, say

if TYPE_CHECKING:
    from lampkit.measurement.fair_ratio import Comparison
    from lampkit.measurement.illuminance_log import IlluminanceLog
    from lampkit.plan.agreement import Confrontation


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command."""
    given = _parser().parse_args(arguments)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # a terminal that lacks a letter still gets the rest
    try:
        _check_places(given)
        _tell_what_is_not_translated()
        with progress.bar():
            given.run(given)
        sys.stdout.flush()
    except (InputError, ModuleNotFoundError) as error:
        if isinstance(error, ModuleNotFoundError):
            error = missing_library(error)
        for sentence in str(error).splitlines():
            print(f"lampkit: {sentence}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        # Whoever read the table had enough of it, as `head` does.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except KeyboardInterrupt:
        print("lampkit: stopped; files are as they were, or whole", file=sys.stderr)
        return 130
    return 0


def _tell_what_is_not_translated() -> None:
    """Tell that a language does not say everything yet, so that nobody takes the rest for a slip."""
    spoken = statements.chosen()
    if spoken.lacking:
        told = say("cli.language_lacks", number=len(spoken.lacking), all=len(spoken.sources), first=spoken.lacking[0])
        print(told, file=sys.stderr)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="lampkit",
        description="Light and colour of old vehicle lamps with LED in place of the filament lamp.",
        epilog="lampkit COMMAND --help explains a command.",
    )
    parser.add_argument("--version", action="version", version=f"lampkit {lampkit.__version__}")
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    # A further command is one more function like this one.
    _add_lamp(commands)
    _add_new(commands)
    _add_report(commands)
    _add_procedure(commands)
    _add_readings(commands)
    _add_faults(commands)
    _add_lamps(commands)
    _add_rules(commands)
    _add_lab(commands)
    _add_lesson(commands)
    for one in (parser, *commands.choices.values()):
        one.error = partial(_refuse, one)  # type: ignore[method-assign]
    return parser


def _refuse(parser: argparse.ArgumentParser, message: str) -> NoReturn:
    """Tell what is wrong with a command line as the other faults are told, and end."""
    parser.print_usage(sys.stderr)
    parser.exit(2, f"lampkit: {harmless(in_short(message))}; '{parser.prog} --help' explains the command.\n")


def _check_places(given: argparse.Namespace) -> None:
    """Refuse what can be no place, before anything looks there."""
    for key, place in vars(given).items():
        names = place.parts if isinstance(place, Path) else ()
        for name in names:
            if "\0" in name or len(os.fsencode(name)) > 255:
                raise InputError(f"'{name[:40]}' can be no file's name", key=key, expected="a shorter, plain name")


def _add_report(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    report = commands.add_parser(
        "report",
        help="what each lamp of a vehicle gives with every light source on offer",
        description="Reads vehicle.toml in FOLDER, prints what to fit, to buy and to mind, and writes a job sheet of "
        "four pages at most to take along, with its basis in a second file beside it.",
        epilog="Exit code 2 means that something in the file cannot be used; the message says where, and no file is "
        "touched.",
    )
    vehicle = report.add_mutually_exclusive_group(required=True)
    vehicle.add_argument("folder", metavar="FOLDER", type=Path, nargs="?", help="the folder that holds vehicle.toml")
    vehicle.add_argument(
        "--demo", action="store_true", help="the library van that ships with the kit, an invented vehicle, as FOLDER"
    )
    report.add_argument(
        "-o",
        "--output",
        metavar="FILE",
        type=Path,
        help="where the job sheet goes, its basis beside it (the folder's name with .html, in the current folder, when "
        "left out)",
    )
    report.add_argument(
        "--json",
        action="store_true",
        help="print the numbers as JSON in place of the table, and write a job sheet only where -o names its file",
    )
    report.add_argument(
        "--causes",
        action="store_true",
        help="print besides, for each lamp, what its ratio is uncertain from and which measurement would do most",
    )
    arguments.add_wishes(report, whole=True)
    report.add_argument(
        "--all",
        action="store_true",
        help="print besides all that the answer rests on: each lamp with every light source, circuits, work, checks",
    )
    arguments.add_draws(report)
    report.set_defaults(run=_report)


def _add_lamp(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    lamp = commands.add_parser(
        "lamp",
        help="one lamp, one answer: what to fit behind a lens in place of its filament lamp",
        description="Says in a sentence whether one of the LEDs on offer gives the light of the filament lamp behind "
        "the lens, and else what to look for; then lists them.",
        epilog="As in: lampkit lamp red P21W --led 'white 6000 K 400 lm' --led 'red 120 lm'. Of a LED nothing need be "
        "told but its colour; lumens, watts, nanometres, base and price make the answer surer.",
    )
    lamp.add_argument("lens", metavar="LENS", help="the colour of the lens: red, amber, clear, green or blue")
    lamp.add_argument(
        "lamp", metavar="LAMP", nargs="?", help="the filament lamp, as in P21W, 1157 or '6V 3W'; or --volts and --watts"
    )
    lamp.add_argument(
        "--led", metavar="WORDS", action="append", default=[], help="a light source on offer; once for each"
    )
    lamp.add_argument(
        "--function", metavar="NAME", help="what the lamp is for, as in 'rear turn' (guessed when left out)"
    )
    lamp.add_argument("--lens-material", metavar="NAME", help="what the lens is made of: plastic or 'old glass'")
    lamp.add_argument(
        "--volts",
        metavar="V",
        type=arguments.number,
        help="the vehicle's supply, 6, 12 or 24, or the volts read at the lamp",
    )
    lamp.add_argument(
        "--watts", metavar="W", type=arguments.number, help="the watts stamped on the old lamp, in place of LAMP"
    )
    lamp.add_argument("--rules", metavar="NAME", default="UN", help="whose limits of colour (UN when left out)")
    lamp.add_argument(
        "--year", metavar="YEAR", type=arguments.whole_number(1880, 2100), help="of the vehicle's first use"
    )
    lamp.add_argument("-o", "--output", metavar="FILE", type=Path, help="also write the lamp's page, with pictures")
    lamp.add_argument("--json", action="store_true", help="print the numbers as JSON in place of the table")
    arguments.add_wishes(lamp)
    arguments.add_draws(lamp)
    lamp.set_defaults(run=_lamp)


def _lamp(given: argparse.Namespace) -> None:
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
    if given.output is not None:
        from lampkit.page import frame

        frame.check_place(given.output, "the lamp's page")
    wished = vehicle.asking(asked.vehicle, assurance=given.assurance, colour_share=given.colour_share)
    from lampkit.page import lamp_answer

    found = lamp_answer.answered(asked, wished.asked, given.draws, given.seed)
    if given.json:
        shown = json.dumps(lamp_answer.answer_as_dict(found), indent=2, allow_nan=False)
    else:
        shown = lamp_answer.answer_text(found)
    if given.output is not None:
        from lampkit.page import basis
        from lampkit.plan import plan

        frame.save(basis.basis_html(plan.make(wished, draws=given.draws, seed=given.seed)), given.output)
    print(shown)
    if given.output is not None:
        print(say("cli.lamp_written", file=given.output), file=sys.stderr)


def _add_new(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    new = commands.add_parser(
        "new",
        help="a folder with an invented vehicle to start from, with comments that say what to change",
        description="Writes vehicle.toml of an invented vehicle into FOLDER. Each of its comments says what to change; "
        "as it stands, it gives a report already. What stands in FOLDER is never touched.",
    )
    new.add_argument("folder", metavar="FOLDER", type=Path, help="your own folder for the vehicle")
    new.add_argument("--like", metavar="VEHICLE", help="which vehicle to start from; they are listed when left out")
    new.set_defaults(run=_new)


def _new(given: argparse.Namespace) -> None:
    from lampkit.vehicle import starters

    if given.like is None:
        known = [say("cli.starter", name=name, told=told) for name, told in starters.starters().items()]
        print(say("cli.starters", known=known, folder=given.folder))
        return
    made = starters.begin(given.folder, given.like)
    print(say("cli.new_written", file=next(path for path in made if path.suffix == ".toml"), folder=given.folder))


def _add_procedure(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    procedure = commands.add_parser(
        "procedure",
        help="how to compare two lamps with a lux meter, as a card to take along",
        description="Works out the distance, the number of repeats and the darkness that show a stated difference "
        "between two lamps, and prints the procedure with the cautions on one page.",
        epilog="Not sure of the intensity? Take one reading: lux with the lamp on less lux with it off, times the "
        "distance in m, times the distance again.",
    )
    procedure.add_argument(
        "intensity", metavar="INTENSITY", type=arguments.number, help="luminous intensity of the dimmer lamp, in cd"
    )
    for name, default, unit, words in (
        ("background", 1.0, "LX", "what the meter shows with the lamp off, in lx"),
        ("resolution", 1.0, "LX", "one step of the last digit of the meter, in lx"),
        ("face-diameter", 0.1, "M", "diameter of the lit face of the lamp, in m"),
        ("difference", 0.2, "SHARE", "the difference between the lamps to be seen: 0.2 for 20 %%"),
    ):
        procedure.add_argument(
            f"--{name}",
            metavar=unit,
            type=arguments.number,
            default=default,
            help=f"{words} ({default:g} when left out)",
        )
    procedure.add_argument("-o", "--output", metavar="FILE", type=Path, help="also write the card as a page to print")
    procedure.set_defaults(run=_procedure)


def _add_readings(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    readings = commands.add_parser(
        "readings",
        help="what lux readings of the old and the new lamp say, fairly compared",
        description="Reads a CSV log of lux readings and prints the ratio of light of each pair of lamps with its "
        "95 % interval, beside what dividing the raw readings would have said, and what makes it uncertain. Beside a "
        "vehicle.toml, or with --vehicle, it holds the readings against the prediction, splits them into lens, lumens "
        "and beam, and says what they teach about a lens that was read fitted and removed.",
        epilog="Exit code 2 means that something in the log cannot be used; the message says where, and no file is "
        "touched.",
    )
    readings.add_argument("file", metavar="FILE", type=Path, help="the log, a CSV file")
    readings.add_argument(
        "--vehicle",
        metavar="FOLDER",
        type=Path,
        help="the folder with the vehicle.toml of the lamps (that of FILE, if it holds one, when left out)",
    )
    readings.add_argument("-o", "--output", metavar="FILE", type=Path, help="also write a page with pictures")
    readings.add_argument("--json", action="store_true", help="print the numbers as JSON in place of the tables")
    arguments.add_draws(readings)
    readings.set_defaults(run=_readings)


def _add_faults(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    from lampkit.circuits.symptoms import Symptom

    faults = commands.add_parser(
        "faults",
        help="from what is seen to what causes it, and the reading that tells two causes apart",
        description="Ranks what may be behind a symptom, by what the vehicle file in FOLDER makes likely, and names "
        "the one measurement that tells the first two causes apart.",
        epilog="Symptoms: " + "; ".join(one.value for one in Symptom) + ".",
    )
    faults.add_argument("folder", metavar="FOLDER", type=Path, nargs="?", help="the folder that holds vehicle.toml")
    faults.add_argument("symptom", metavar="SYMPTOM", help="what is seen, as in 'stays dark'")
    faults.add_argument("--lamp", metavar="NAME", help="the lamp on which it is seen (a likely one when left out)")
    faults.set_defaults(run=_faults)


def _faults(given: argparse.Namespace) -> None:
    from lampkit.circuits.symptoms import known_symptom
    from lampkit.plan.faults import find_fault
    from lampkit.vehicle import vehicle

    symptom = known_symptom(given.symptom)
    found = find_fault(symptom, None if given.folder is None else vehicle.load(given.folder), given.lamp)
    _print_wrapped(say("cli.faults", symptom=named(symptom), lamp=found.lamp))
    if found.assumed is not None:
        _print_wrapped(say("cli.faults_assumed", name=found.assumed))
    for number, suspect in enumerate(found.suspects, start=1):
        _print_wrapped(say("cli.suspect", number=number, words=suspect.said))
    if found.telling is not None:
        _print_wrapped(found.telling.said)
    if found.sound_said is not None:
        _print_wrapped(found.sound_said)
    _print_wrapped(say("cli.faults_caution", words=[named(one) for one in found.cautions]))


def _print_wrapped(said: object) -> None:
    """Print what is said in lines that fit a terminal."""
    from textwrap import fill

    print(fill(str(said), 100, subsequent_indent="    ", break_on_hyphens=False, break_long_words=False))


def _add_lamps(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    lamps = commands.add_parser(
        "lamps",
        help="the filament lamps that the kit knows, and which goes in place of which",
        description="Lists filament lamps with base, volts, watts and lumens. Words pick among them: a designation, a "
        "trade number, a base, a voltage, a system. Volts and watts together stand for a lamp that is not listed.",
        epilog="As in: lampkit lamps BA9s 12V; lampkit lamps 1157; lampkit lamps 12V 2.2W E10.",
    )
    lamps.add_argument("words", metavar="WORD", nargs="*", help="what each lamp of the list shall answer to")
    lamps.set_defaults(run=_lamps)


FEW = 3
"""Lamps up to which the list also says what goes in place of each [1]. Source: own judgement, one screen."""


def _lamps(given: argparse.Namespace) -> None:
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


def _add_rules(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    rules = commands.add_parser(
        "rules",
        help="the published rule sets: what each is and in which years it held",
        description="Lists the rule sets that the kit knows, with the years in which each held and whether it bound "
        "the makers of lamps. A family such as UN or US picks the rule set of the vehicle's year.",
    )
    rules.add_argument(
        "--year", type=arguments.whole_number(1880, 2100), metavar="YEAR", help="name those of a year only"
    )

    rules.set_defaults(run=_rules)


def _rules(given: argparse.Namespace) -> None:
    from lampkit.rules import rule_sets

    known = rule_sets.rule_sets().values()
    if given.year is not None:
        for head in (one for one in known if one.family == one.name):
            found = rule_sets.in_force(head.name, given.year)
            _print_wrapped(say("rule_set.of_year", year=given.year, family=head.name, name=found.name, told=found.told))
        return
    for one in known:
        _print_wrapped(say("rule_set.listed", name=one.name, told=one.told, road=bool(one.functions)))


def _add_lab(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    notebooks = commands.add_parser(
        "lab",
        help="the notebooks and panels, in JupyterLab",
        description="Copies the notebooks and the demo data into FOLDER, keeps whatever stands there already, and "
        "opens JupyterLab on the start page.",
    )
    notebooks.add_argument(
        "folder",
        metavar="FOLDER",
        type=Path,
        nargs="?",
        default=Path("lampkit_notebooks"),
        help="your own folder for them (lampkit_notebooks when left out)",
    )
    notebooks.add_argument("--no-open", action="store_true", help="copy only, and do not start JupyterLab")
    notebooks.add_argument("--no-browser", action="store_true", help="start JupyterLab, but open no browser window")
    notebooks.add_argument(
        "--port", type=arguments.whole_number(1024, 65535), metavar="N", help="the port on this computer"
    )

    notebooks.set_defaults(run=_lab)


def _lab(given: argparse.Namespace) -> None:
    from lampkit.notebook import lab

    if not given.no_open:
        lab.refuse_missing()
    if given.port is not None and not given.no_open:
        lab.refuse_taken(given.port)
    made = lab.set_up(given.folder)
    print(say("lab.ready", **made._asdict()), flush=True)
    if not given.no_open:
        raise SystemExit(lab.start(made.folder, browser=not given.no_browser, port=given.port))


def _add_lesson(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    lesson = commands.add_parser(
        "lesson",
        help="a lesson to hold: handout, teacher's page and slides",
        description="Writes the sheets of a lesson as pages: a handout of two sides with no answer on it, the "
        "teacher's page with answers and minutes, and slides for a wall, moved by arrow keys; all three when none is "
        "named.",
        epilog="To go through it on your own, open the lesson among the notebooks: lampkit lab.",
    )
    lesson.add_argument(
        "name",
        metavar="LESSON",
        nargs="?",
        default="white_behind_red",
        help="which lesson (white_behind_red when left out; a wrong name lists them)",
    )
    lesson.add_argument("--handout", action="store_true", help="the leaf for pupils, to print on both sides")
    lesson.add_argument("--teacher", action="store_true", help="the page for the teacher")
    lesson.add_argument("--slides", action="store_true", help="the slides for the wall")
    lesson.add_argument(
        "-o",
        "--output",
        metavar="FOLDER",
        type=Path,
        default=Path(),
        help="where they go (the current folder when left out)",
    )
    lesson.set_defaults(run=_lesson)


def _lesson(given: argparse.Namespace) -> None:
    from lampkit.lesson import lesson_file, sheets

    told = lesson_file.load(given.name)
    which = tuple(name for name in sheets.WRITERS if getattr(given, name)) or tuple(sheets.WRITERS)
    for path in sheets.save(told, which, given.output):
        print(path)


def _procedure(given: argparse.Namespace) -> None:
    from lampkit.measurement.procedure import plan_measurement

    plan = plan_measurement(
        given.intensity,
        background=given.background,
        resolution=given.resolution,
        face_diameter=given.face_diameter,
        difference=given.difference,
    )
    from lampkit.page import card, frame

    if given.output is not None:
        frame.check_place(given.output, "the card")
        frame.save(card.page(plan), given.output)
    print(card.text(plan))
    if given.output is not None:
        print(say("cli.card_written", file=given.output), file=sys.stderr)


def _readings(given: argparse.Namespace) -> None:
    from lampkit.measurement import illuminance_log

    log = illuminance_log.load_log(given.file)
    from lampkit.page import data, frame, readings

    if given.output is not None:
        frame.check_place(given.output, "the page of the readings")
    found = _read(given, log)
    if given.json:
        shown = json.dumps({"file": str(given.file), **data.readings_as_dict(found)}, indent=2, allow_nan=False)
    else:
        shown = readings.readings_text(found)
    if given.output is not None:
        title = str(say("cli.readings_title", file=given.file.name))
        frame.save(readings.readings_html(found, title), given.output)
    print(shown)
    if given.output is not None:
        print(say("cli.readings_written", file=given.output), file=sys.stderr)


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


def _report(given: argparse.Namespace) -> None:
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
    from lampkit.page import data, frame, job_sheet, job_sheet_text

    if target is not None:
        frame.check_place(target)
        frame.check_place(job_sheet.basis_beside(target), "the basis of the job sheet")
    from lampkit.plan import plan

    made = plan.make(read, draws=given.draws, seed=given.seed)
    from lampkit.plan import causes

    found = causes.causes_of_plan(made) if given.causes else ()
    if given.json:
        shown = json.dumps(data.plan_as_dict(made, causes=found), indent=2, allow_nan=False)
    else:
        doubts = ["", *(f"- {one.sentence}" for one in found)] if found else []
        shown = "\n".join([job_sheet_text.report_text(made, full=given.all), *doubts])
    if target is not None:
        job_sheet.save_job_sheet(made, target)
    print(shown)
    if target is not None:
        beside = job_sheet.basis_beside(target).name
        print(say("cli.job_sheet_written", file=target, basis=beside), file=sys.stderr)
