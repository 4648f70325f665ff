"""What several commands ask for on the command line: numbers, draws and seed, and what the owner wishes."""

import argparse
import math
from collections.abc import Callable

DRAWS = 4000
SEED = 1


def add_wishes(command: argparse.ArgumentParser, *, whole: bool = False) -> None:
    """Ask for what the owner wishes of the choice."""
    asked = command.add_argument_group("what you ask", "in place of what the vehicle file says" if whole else None)
    asked.add_argument(
        "--assurance", metavar="SHARE", type=number, help="how sure of the filament's light: 0.9 for 90 %% (usual)"
    )
    asked.add_argument(
        "--colour-share", metavar="SHARE", type=number, help="for which share of lenses the colour is right (0.9)"
    )
    if whole:
        asked.add_argument(
            "--stop-over-tail", metavar="TIMES", type=number, help="how many times the tail light the stop light gives"
        )
        asked.add_argument("--aim", choices=("least cost", "most light"), help="what is sought among all that will do")
        asked.add_argument("--budget", metavar="MONEY", type=number, help="the most that everything may cost")
        asked.add_argument(
            "--sides", choices=("alike", "free"), help="whether left and right get the same light source (alike)"
        )


def add_draws(command: argparse.ArgumentParser) -> None:
    """Ask for the seed and the number of draws."""
    command.add_argument(
        "--seed",
        type=whole_number(0, 2**32 - 1),
        default=SEED,
        metavar="N",
        help=f"seed of the draws behind the intervals; the same seed gives the same numbers ({SEED} when left out)",
    )
    command.add_argument(
        "--draws",
        type=whole_number(100, 20000),
        default=DRAWS,
        metavar="N",
        help=f"how many possible garages are drawn, 100 to 20000 ({DRAWS} when left out)",
    )


def whole_number(low: int, high: int) -> Callable[[str], int]:
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


def number(word: str) -> float:
    """Read a number."""
    try:
        number = float(word)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f"'{word}' is not a number")
    return number
