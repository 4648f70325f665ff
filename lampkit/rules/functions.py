"""The lamp functions by the trade's terms: lens colours, flashing, and what else the kit has to know of each."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.rules.rule_sets import listed


@dataclass(frozen=True)
class LampFunction:
    """What a lamp does on a vehicle.

    Parameters
    ----------
    name : str
        The trade's term, as in 'rear turn'.
    also_called : tuple of str
        Other terms that are understood.
    lenses : tuple of str
        The usual colours of its lens, the most usual first; none where any colour may stand there.
    flashes : bool
        Whether it flashes.
    brakes : bool
        Whether it warns of braking.
    seen : bool
        Whether it is told from how far it is seen.
    spacing : bool
        Whether its limits may depend on the gap to the headlamp.
    road : bool
        Whether a road rule may set limits for it.
    tell_tale : bool
        Whether it is the tell-tale of other lamps.
    keep : bool
        Whether its filament stays whatever is on offer: the charge-warning lamp, which may excite the generator.
    outshines : str
        The function beside which it must stay plainly brighter, or empty.
    words : tuple of str
        What suggests it in the name of a lamp.
    categories : mapping from str to str
        For each of the rules that know categories, the one taken when none is named.
    source : str
        Key of the bibliography.
    known : str
        How it is known.

    Examples
    --------
    >>> import lampkit as lk
    >>> turn = lk.rules.function("rear turn")
    >>> turn.lenses, turn.flashes, turn.categories["UN"]
    (('amber', 'red'), True, '2a')
    """

    name: str
    also_called: tuple[str, ...]
    lenses: tuple[str, ...]
    flashes: bool
    brakes: bool
    seen: bool
    spacing: bool
    road: bool
    tell_tale: bool
    keep: bool
    outshines: str
    words: tuple[str, ...]
    categories: Mapping[str, str]
    source: str
    known: str


@cache
def functions() -> Mapping[str, LampFunction]:
    """List the lamp functions that the kit knows, by name."""
    usual: dict[str, dict[str, str]] = {}
    for row in tables.load("rules", "usual_categories").rows():
        usual.setdefault(row["function"], {})[row["rules"]] = row["category"]
    found = {}
    for row in tables.load("rules", "functions").rows():
        for key in ("also_called", "lenses", "words"):
            row[key] = listed(row[key])
        for key in ("flashes", "brakes", "seen", "spacing", "road", "tell_tale", "keep"):
            row[key] = row[key] == "yes"
        found[row["name"]] = LampFunction(categories=MappingProxyType(usual.get(row["name"], {})), **row)
    return MappingProxyType(found)


def names() -> tuple[str, ...]:
    """List the lamp functions by name."""
    return tuple(functions())


@cache
def aliases() -> Mapping[str, str]:
    """List the other terms that are understood, each with the name that it stands for."""
    return MappingProxyType({other: one.name for one in functions().values() for other in one.also_called})


def function(name: str) -> LampFunction:
    """Look up a lamp function by its name, or by another term that is understood.

    Parameters
    ----------
    name : str
        A term of the trade, as in 'stop' or 'brake'.

    Returns
    -------
    LampFunction
        The function.

    Raises
    ------
    InputError
        There is no such function.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.rules.function("backup").name
    'reversing'
    """
    known = functions()
    term = aliases().get(name, name)
    if term not in known:
        raise InputError(f"the lamp function '{name}' is unknown", key="function", expected=nearest(str(name), known))
    return known[term]


def behind_lens(colour: str) -> tuple[str, ...]:
    """List the functions whose lens is usually of a colour."""
    return tuple(one.name for one in functions().values() if colour in one.lenses)


def suggested_by(lamp: str) -> LampFunction | None:
    """Guess the function of a lamp from what somebody called it; the phrase of most words counts first."""
    called = lamp.casefold()
    phrases = [(word, one) for one in functions().values() for word in one.words if word in called]
    return max(phrases, key=lambda found: len(found[0].split()), default=("", None))[1]
