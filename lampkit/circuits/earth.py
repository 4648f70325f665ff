"""Positive and negative earth: which parts depend on it and what is done with each, and the leads of the coil."""

from enum import Enum
from typing import Literal, NamedTuple

from lampkit import tables
from lampkit.errors import member
from lampkit.statements import Statement, named, say


class Earth(Enum):
    """Which pole of the battery lies on the body of the vehicle, by the name that the vehicle file uses."""

    NEGATIVE = "negative"
    POSITIVE = "positive"


EarthName = Literal["negative", "positive"]

SPARK_PENALTY = 0.10, 0.40
"""How much more voltage a spark of the wrong polarity asks for [1]. Source: sources differ: about 10 % in a maker's
training text read in reprint, 15 % to 40 % often quoted, no text seen."""


class PolarityBound(Enum):
    """Whether a part depends on the polarity of the earth, by the words of data/circuit/polarity.csv."""

    YES = "yes"
    NO = "no"
    SOURCES_DIFFER = "sources differ"


class PolarPart(Enum):
    """A part of an older vehicle, by its id in data/circuit/polarity.csv; its words say what to do with it."""

    FILAMENT_LAMP = "filament_lamp"
    POLARISED_LED = "polarised_led"
    LED_BEHIND_RECTIFIER = "led_behind_rectifier"
    THERMAL_FLASHER = "thermal_flasher"
    ELECTRONIC_FLASHER = "electronic_flasher"
    DYNAMO = "dynamo"
    CONTROL_BOX_WITH_CONTACTS = "control_box_with_contacts"
    ALTERNATOR = "alternator"
    IGNITION_COIL = "ignition_coil"
    CONTACT_BREAKER_IGNITION = "contact_breaker_ignition"
    ELECTRONIC_IGNITION = "electronic_ignition"
    RADIO = "radio"
    AMMETER = "ammeter"
    CURRENT_SENSING_TACHOMETER = "current_sensing_tachometer"
    STARTER_MOTOR = "starter_motor"
    PERMANENT_MAGNET_MOTOR = "permanent_magnet_motor"
    WIPER_AND_BLOWER_MOTOR = "wiper_and_blower_motor"
    FUEL_PUMP_WITH_DIODE = "fuel_pump_with_diode"
    FUEL_PUMP_WITH_A_CAPACITOR = "fuel_pump_with_a_capacitor"
    HORN = "horn"
    CHARGE_WARNING_LAMP = "charge_warning_lamp"
    ACCESSORY_SOCKET = "accessory_socket"
    CLOCK = "clock"
    HEATER_MOTOR = "heater_motor"
    TRAILER_SOCKET = "trailer_socket"
    IGNITION_MAGNETO = "ignition_magneto"
    RECTIFIER_OF_MAGNETO = "rectifier_of_magneto"
    TACHOMETER_OF_DYNAMO_OR_COIL = "tachometer_of_dynamo_or_coil"
    FUEL_AND_TEMPERATURE_GAUGE = "fuel_and_temperature_gauge"


class EarthPart(NamedTuple):
    """What the polarity of the earth means to one part."""

    id: PolarPart
    part: str
    polarity_bound: PolarityBound
    caution: str
    source: str
    known: str

    @property
    def what_to_do(self) -> Statement:
        """What is done with it when the earth is changed."""
        return named(self.id)


def parts() -> tuple[EarthPart, ...]:
    """List the parts of an older vehicle and whether they depend on the polarity of its earth."""
    table = tables.load("circuit", "polarity")
    return tuple(
        EarthPart(**{**row, "id": PolarPart(row["id"]), "polarity_bound": PolarityBound(row["polarity_bound"])})
        for row in table.rows()
    )


class CoilLeads(NamedTuple):
    """The marks of the coil's low-tension terminals that go to the contact breaker and to the ignition switch."""

    earth: Earth
    breaker: str
    feed: str

    @property
    def said(self) -> Statement:
        """Which terminal goes where, and what the wrong way round costs."""
        low, high = SPARK_PENALTY
        earth = named(self.earth)
        return say("earth.coil_leads", earth=earth, breaker=self.breaker, feed=self.feed, low=low, high=high)


def coil_leads(earth: Earth | EarthName) -> CoilLeads:
    """Give the low-tension terminal of the coil that goes to the contact breaker.

    Source: a maker's training text, read in reprint; spread of the gain, `SPARK_PENALTY`.
    """
    known = member(Earth, earth, "earth", "earth")
    # The breaker connects to earth, so its terminal carries the sign of the earth.
    return CoilLeads(known, *(("-", "+") if known is Earth.NEGATIVE else ("+", "-")))
