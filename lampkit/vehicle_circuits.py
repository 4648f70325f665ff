"""The circuits that a vehicle file describes, and the parts on offer that cure them."""

from dataclasses import dataclass

from lampkit.vehicle_file import Entry


@dataclass(frozen=True)
class Circuit:
    """A circuit of the vehicle: what feeds its lamps.

    Parameters
    ----------
    name : str
        The circuit.
    fuse : float or None [A]
        Continuous rating of the fuse.
    wire_length : float or None [m]
        Length from the supply to the lamps, one way.
    wire_area : float or None [mm2]
        Section of the conductor.
    switch_rating : float or None [A]
        What the switch may carry.
    flasher : str or None
        'thermal series', 'hot wire', 'electronic' or 'load-independent'; None where none is fitted.
    flasher_rated_load : float or None [W]
        Lamp load printed on the flasher.
    tell_tale : str or None
        'single between sides', 'one each side' or 'from the flasher'; how the tell-tale is connected.
    tell_tale_power : float or None [W]
        Power of its lamp.
    note : str
        Anything worth keeping.

    Source: the kit's own convention.
    """

    name: str
    fuse: float | None = None
    wire_length: float | None = None
    wire_area: float | None = None
    switch_rating: float | None = None
    flasher: str | None = None
    flasher_rated_load: float | None = None
    tell_tale: str | None = None
    tell_tale_power: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Part:
    """A part that can be bought to cure a circuit.

    Parameters
    ----------
    name : str
        The part.
    kind : str
        'load-independent flasher', 'ballast resistor' or 'pair of diodes'.
    price : float [currency]
        Price of one, in the currency of the vehicle file.
    resistance : float or None [ohm]
        Resistance of a ballast resistor.
    power : float or None [W]
        Rated power of a ballast resistor.
    note : str
        Anything worth keeping.

    Source: the kit's own convention.
    """

    name: str
    kind: str
    price: float
    resistance: float | None = None
    power: float | None = None
    note: str = ""


def circuit(entry: Entry) -> Circuit:
    """Make a circuit out of its section.

    Parameters
    ----------
    entry : Entry
        The section [[circuit]], each key checked by itself.

    Returns
    -------
    Circuit
        The circuit.

    Raises
    ------
    InputError
        Keys do not go together.

    Source: the kit's own convention.
    """
    given = entry.values
    if "flasher_rated_load_W" in given and "flasher" not in given:
        raise entry.refusal(
            "flasher_rated_load_W", "a load is given for no flasher", expected="the key 'flasher' beside it"
        )
    return Circuit(
        name=given["name"],
        fuse=given.get("fuse_A"),
        wire_length=given.get("wire_length_m"),
        wire_area=given.get("wire_area_mm2"),
        switch_rating=given.get("switch_rating_A"),
        flasher=given.get("flasher"),
        flasher_rated_load=given.get("flasher_rated_load_W"),
        tell_tale=given.get("tell_tale"),
        tell_tale_power=given.get("tell_tale_W"),
        note=given.get("note", ""),
    )


def part(entry: Entry) -> Part:
    """Make a part on offer out of its section.

    Parameters
    ----------
    entry : Entry
        The section [[part]], each key checked by itself.

    Returns
    -------
    Part
        The part.

    Raises
    ------
    InputError
        A ballast resistor has no resistance or no power.

    Source: the kit's own convention.
    """
    given = entry.values
    if given["kind"] == "ballast resistor":
        for key in ("resistance_ohm", "power_W"):
            if key not in given:
                raise entry.refusal("kind", f"a ballast resistor without {key}", expected="resistance_ohm and power_W")
    return Part(
        name=given["name"],
        kind=given["kind"],
        price=given["price"],
        resistance=given.get("resistance_ohm"),
        power=given.get("power_W"),
        note=given.get("note", ""),
    )
