"""The command line: the options of each command, messages on stderr, exit code 2 for input that cannot be used."""

import argparse
import gc
import math
import os
import sys
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import lampkit
from lampkit import commands, progress, statements
from lampkit.errors import InputError, harmless, in_short, missing_library
from lampkit.statements import say

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DRAWS = 4000
SEED = 1


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command."""
    given, unknown = _parser().parse_known_args(arguments)
    if unknown:
        given.refuse(f"unrecognized arguments: {' '.join(unknown)}")
    # What a command makes mostly lives to its end: looking among it for rubbish takes a twentieth of a report.
    usual = gc.get_threshold()
    gc.set_threshold(500_000, 20, 20)
    try:
        return _run(given)
    finally:
        gc.set_threshold(*usual)
        if arguments is None:
            gc.freeze()  # the process ends: looking through everything once more takes as long as a lamp


def _run(given: argparse.Namespace) -> int:
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
        # In a terminal ^C stands on the line, and a bar may.
        begin = "\n" if sys.stderr.isatty() else ""
        print(f"{begin}lampkit: stopped; files are as they were, or whole", file=sys.stderr)
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
    parsers = parser.add_subparsers(metavar="COMMAND", required=True)
    # A further command is one more function like this one.
    _add_lamp(parsers)
    _add_new(parsers)
    _add_report(parsers)
    _add_procedure(parsers)
    _add_readings(parsers)
    _add_faults(parsers)
    _add_lamps(parsers)
    _add_rules(parsers)
    _add_lab(parsers)
    _add_lesson(parsers)
    for one in (parser, *parsers.choices.values()):
        one.error = partial(_refuse, one)  # type: ignore[method-assign]
        one.set_defaults(refuse=one.error)
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


def _add_report(parsers: "Subparsers") -> None:
    report = parsers.add_parser(
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
    _add_wishes(report, whole=True)
    everything = "print besides all that the answer rests on: each lamp with every light source, circuits, work, checks"
    report.add_argument("--all", action="store_true", help=everything)
    _add_draws(report)
    report.set_defaults(run=commands.report)


def _add_lamp(parsers: "Subparsers") -> None:
    lamp = parsers.add_parser(
        "lamp",
        help="one lamp, one answer: what to fit behind a lens in place of its filament lamp",
        description="Says in a sentence whether one of the LEDs on offer gives the light of the filament lamp behind "
        "the lens, and else what to look for; then lists them.",
        epilog="As in: lampkit lamp red P21W --led 'white 6000 K 400 lm' --led 'red 120 lm'. Of a LED nothing need be "
        "told but its colour; lumens, watts, nanometres and base make the answer surer.",
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
    lamp.add_argument("--lens-material", metavar="NAME", help="its material: plastic, 'old glass' or unknown")
    lamp.add_argument(
        "--volts",
        metavar="V",
        type=_number,
        help="the vehicle's supply, 6, 12 or 24, or the volts read at the lamp",
    )
    lamp.add_argument("--watts", metavar="W", type=_number, help="the watts stamped on the old lamp, in place of LAMP")
    lamp.add_argument("--rules", metavar="NAME", default="UN", help="whose limits of colour (UN when left out)")
    lamp.add_argument("--year", metavar="YEAR", type=_whole_number(1880, 2100), help="of the vehicle's first use")
    lamp.add_argument("-o", "--output", metavar="FILE", type=Path, help="also write the lamp's page, with pictures")
    lamp.add_argument("--json", action="store_true", help="print the numbers as JSON in place of the table")
    _add_wishes(lamp)
    _add_draws(lamp)
    lamp.set_defaults(run=commands.lamp)


def _ask_folder(parser: argparse.ArgumentParser, usual: str, what: str) -> None:
    told = f"{what} ({usual} when left out)"
    parser.add_argument("folder", metavar="FOLDER", type=Path, nargs="?", default=Path(usual), help=told)


def _add_new(parsers: "Subparsers") -> None:
    new = parsers.add_parser(
        "new",
        help="a folder with an invented vehicle to start from, with comments that say what to change",
        description="Writes vehicle.toml of an invented vehicle into FOLDER. Each of its comments says what to change; "
        "as it stands, it gives a report already. What stands in FOLDER is never touched.",
    )
    _ask_folder(new, "my_vehicle", "your own folder for the vehicle")
    new.add_argument("--like", metavar="VEHICLE", help="which vehicle to start from; they are listed when left out")
    new.set_defaults(run=commands.new)


def _add_procedure(parsers: "Subparsers") -> None:
    procedure = parsers.add_parser(
        "procedure",
        help="how to compare two lamps with a lux meter, as a card to take along",
        description="Works out the distance, the number of repeats and the darkness that show a stated difference "
        "between two lamps, and prints the procedure with the cautions on one page.",
        epilog="Not sure of the intensity? Take one reading: lux with the lamp on less lux with it off, times the "
        "distance in m, times the distance again.",
    )
    procedure.add_argument(
        "intensity", metavar="INTENSITY", type=_number, help="luminous intensity of the dimmer lamp, in cd"
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
            type=_number,
            default=default,
            help=f"{words} ({default:g} when left out)",
        )
    procedure.add_argument("-o", "--output", metavar="FILE", type=Path, help="also write the card as a page to print")
    procedure.set_defaults(run=commands.procedure)


def _add_readings(parsers: "Subparsers") -> None:
    readings = parsers.add_parser(
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
    _add_draws(readings)
    readings.set_defaults(run=commands.readings)


def _add_faults(parsers: "Subparsers") -> None:
    from lampkit.circuits.fault_finding import Symptom

    faults = parsers.add_parser(
        "faults",
        help="from what is seen to what causes it, and the reading that tells two causes apart",
        description="Ranks what may be behind a symptom, by what the vehicle file in FOLDER makes likely, and names "
        "the one measurement that tells the first two causes apart.",
        epilog="Symptoms: " + "; ".join(one.value for one in Symptom) + ".",
    )
    faults.add_argument("folder", metavar="FOLDER", type=Path, nargs="?", help="the folder that holds vehicle.toml")
    faults.add_argument("symptom", metavar="SYMPTOM", help="what is seen, as in 'stays dark'")
    faults.add_argument("--lamp", metavar="NAME", help="the lamp on which it is seen (a likely one when left out)")
    faults.set_defaults(run=commands.faults)


def _add_lamps(parsers: "Subparsers") -> None:
    lamps = parsers.add_parser(
        "lamps",
        help="the filament lamps that the kit knows, and which goes in place of which",
        description="Lists filament lamps with base, volts, watts and lumens. Words pick among them: a designation, a "
        "trade number, a base, a voltage, a system. Volts and watts together stand for a lamp that is not listed.",
        epilog="As in: lampkit lamps BA9s 12V; lampkit lamps 1157; lampkit lamps 12V 2.2W E10.",
    )
    lamps.add_argument("words", metavar="WORD", nargs="*", help="what each lamp of the list shall answer to")
    lamps.set_defaults(run=commands.lamps)


def _add_rules(parsers: "Subparsers") -> None:
    rules = parsers.add_parser(
        "rules",
        help="the published rule sets: what each is and in which years it held",
        description="Lists the rule sets that the kit knows, with the years in which each held and whether it bound "
        "the makers of lamps. A family such as UN or US picks the rule set of the vehicle's year.",
    )
    rules.add_argument("--year", type=_whole_number(1880, 2100), metavar="YEAR", help="name those of a year only")

    rules.set_defaults(run=commands.rules)


def _add_lab(parsers: "Subparsers") -> None:
    notebooks = parsers.add_parser(
        "lab",
        help="the notebooks and panels, in JupyterLab",
        description="Copies the notebooks and the demo data into FOLDER, keeps whatever stands there already, and "
        "opens JupyterLab on the start page.",
    )
    _ask_folder(notebooks, "lampkit_notebooks", "your own folder for them")
    notebooks.add_argument("--no-open", action="store_true", help="copy only, and do not start JupyterLab")
    notebooks.add_argument("--no-browser", action="store_true", help="start JupyterLab, but open no browser window")
    notebooks.add_argument("--port", type=_whole_number(1024, 65535), metavar="N", help="the port on this computer")

    notebooks.set_defaults(run=commands.lab)


def _add_lesson(parsers: "Subparsers") -> None:
    lesson = parsers.add_parser(
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
    lesson.set_defaults(run=commands.lesson)


def _add_wishes(command: argparse.ArgumentParser, *, whole: bool = False) -> None:
    """Ask for what the owner wishes of the choice."""
    asked = command.add_argument_group("what you ask", "in place of what the vehicle file says" if whole else None)
    asked.add_argument(
        "--assurance", metavar="SHARE", type=_number, help="how sure of the filament's light: 0.9 for 90 %% (usual)"
    )
    asked.add_argument(
        "--colour-share", metavar="SHARE", type=_number, help="for which share of lenses the colour is right (0.9)"
    )
    if whole:
        asked.add_argument(
            "--stop-over-tail", metavar="TIMES", type=_number, help="how many times the tail light the stop light gives"
        )
        asked.add_argument("--aim", choices=("least cost", "most light"), help="what is sought among all that will do")
        asked.add_argument("--budget", metavar="MONEY", type=_number, help="the most that everything may cost")
        asked.add_argument(
            "--sides", choices=("alike", "free"), help="whether left and right get the same light source (alike)"
        )


def _add_draws(command: argparse.ArgumentParser) -> None:
    """Ask for the seed and the number of draws."""
    command.add_argument(
        "--seed",
        type=_whole_number(0, 2**32 - 1),
        default=SEED,
        metavar="N",
        help=f"seed of the draws behind the intervals; the same seed gives the same numbers ({SEED} when left out)",
    )
    command.add_argument(
        "--draws",
        type=_whole_number(100, 20000),
        default=DRAWS,
        metavar="N",
        help=f"how many possible garages are drawn, 100 to 20000 ({DRAWS} when left out)",
    )


def _whole_number(low: int, high: int) -> Callable[[str], int]:
    """Give a reader of whole numbers between two limits."""

    def read(word: str) -> int:
        try:
            number = int(word)
        except ValueError:
            number = low - 1
        if not low <= number <= high:
            raise argparse.ArgumentTypeError(f"'{word}' is not a whole number from {low} to {high}")
        return number

    return read


def _number(word: str) -> float:
    """Read a number."""
    try:
        number = float(word)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f"'{word}' is not a number")
    return number
