"""The cautions of circuit work, each where its hazard is."""

from collections.abc import Mapping
from enum import Enum
from functools import cache
from types import MappingProxyType

from lampkit import tables
from lampkit.errors import InputError, nearest


class Caution(Enum):
    """A caution, by its id in the table.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.circuits.Caution("earth_first").name
    'EARTH_FIRST'

    Source: data/circuit/cautions.csv, each row with its own source.
    """

    HOT_BALLAST = "hot_ballast"
    BALLAST_WIRE = "ballast_wire"
    EARTH_FIRST = "earth_first"
    BATTERY_GAS = "battery_gas"
    ACID = "acid"
    CHARGE_LAMP = "charge_lamp"
    DYNAMO_TOUCH = "dynamo_touch"
    CHARGING_OPEN = "charging_open"
    POLARITY_BOUND = "polarity_bound"
    MARK_BATTERY = "mark_battery"
    FUSE_SIZE = "fuse_size"
    NO_FUSE = "no_fuse"
    GLASS_FUSE = "glass_fuse"
    OUTAGE = "outage"
    HAZARDS = "hazards"
    INRUSH_LIMIT = "inrush_limit"
    HOT_LAMP = "hot_lamp"
    MEASURE_HOLDER = "measure_holder"
    ROAD_RULES = "road_rules"
    SPARE_FILAMENTS = "spare_filaments"
    HOLDER_CONTACTS = "holder_contacts"


@cache
def places() -> Mapping[str, tuple[Caution, ...]]:
    """List the cautions by the piece of work at which their hazard stands.

    Source: data/circuit/cautions.csv, each row with its own source.
    """
    found: dict[str, tuple[Caution, ...]] = {}
    for row in tables.load("circuit", "cautions").rows():
        found[row["where"]] = (*found.get(row["where"], ()), Caution(row["id"]))
    return MappingProxyType(found)


def cautions(where: str) -> tuple[Caution, ...]:
    """List the cautions that belong to a piece of work.

    Parameters
    ----------
    where : str
        The work, as in 'battery' or 'charging'.

    Returns
    -------
    tuple of Caution
        The cautions.

    Raises
    ------
    InputError
        There are none for such a work.

    Examples
    --------
    >>> import lampkit as lk
    >>> [caution.value for caution in lk.circuits.cautions("flasher")]
    ['outage', 'hazards']

    Source: data/circuit/cautions.csv, each row with its own source.
    """
    if where not in places():
        raise InputError(f"there are no cautions for '{where}'", key="where", expected=nearest(where, places()))
    return places()[where]
