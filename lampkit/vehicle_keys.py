"""The keys of a vehicle file, as data: what each means, its unit and its range, for reading and for messages."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "long text", "texts", "number", "whole number", "range", "number or range", "yes or no"]


@dataclass(frozen=True)
class Key:
    """One key that may stand in a section.

    Parameters
    ----------
    name : str
        The key; where it has a unit, the name ends in it.
    kind : str
        'text', 'long text', 'texts', 'number', 'whole number', 'range', 'number or range' or 'yes or no'.
    means : str
        What stands there, in plain words.
    required : bool
        Whether every entry needs it.
    unit : str
        The unit; '' for words and plain numbers.
    low, high : float [1]
        The range, in `unit`.
    choices : tuple of str
        The words that are accepted; empty for any.
    numbers : tuple of float [1]
        The numbers that are accepted, in `unit`; empty for any.

    Source: the kit's own convention.
    """

    name: str
    kind: Kind
    means: str
    required: bool = False
    unit: str = ""
    low: float = float("-inf")
    high: float = float("inf")
    choices: tuple[str, ...] = ()
    numbers: tuple[float, ...] = ()

    def wanted(self) -> str:
        """Word what the key expects.

        Returns
        -------
        str
            For example 'a number from 0.1 to 20000 lm'.

        Source: the kit's own convention.
        """
        unit = f" {self.unit}" if self.unit else ""
        if self.kind in ("text", "long text", "texts"):
            return self.means
        if self.kind == "yes or no":
            return "true or false"
        if self.numbers:
            return " or ".join(f"{n:g}" for n in self.numbers) + unit
        if self.kind == "range":
            return f"[lower, upper] between {self.low:g} and {self.high:g}{unit}"
        what = "a whole number" if self.kind == "whole number" else "a number"
        or_range = ", or [lower, upper]" if self.kind == "number or range" else ""
        return f"{what} from {self.low:g} to {self.high:g}{unit}{or_range}"


COLOURS = ("red", "amber", "clear", "green", "blue")
MATERIALS = ("plastic", "old glass")
LED_COLOURS = ("deep red", "red", "red-orange", "amber", "phosphor amber", "green", "blue")
POSITIONS = (
    *("front left", "front right", "front", "side left", "side right"),
    *("rear left", "rear right", "rear", "roof", "dashboard"),
)
FLASHERS = ("thermal series", "hot wire", "electronic", "load-independent")
TELL_TALES = ("single between sides", "one each side", "from the flasher")
OUTSIDE = ("zero", "hold")

LISTS = ("light_source", "lens", "circuit", "part", "lamp")
"""The sections of which there may be several, in double brackets."""

KEYS: dict[str, tuple[Key, ...]] = {
    "vehicle": (
        Key("name", "text", "the vehicle's name", required=True),
        Key("year", "whole number", "the year of first use", low=1880, high=2100),
        Key("supply_voltage_V", "number", "the nominal supply", required=True, unit="V", numbers=(6, 12, 24)),
        Key(
            "running_voltage_V", "number", "the voltage at the lamps with the engine running", unit="V", low=5, high=32
        ),
        Key("earth", "text", "'negative' or 'positive'", choices=("negative", "positive")),
        Key("rules", "text", "whose published limits the lamps are held against"),
        Key("currency", "text", "the currency of the prices"),
        Key("budget", "number", "the most that the light sources and parts may cost", low=0, high=1e6),
        Key("note", "long text", "anything worth keeping"),
    ),
    "light_source": (
        Key("name", "text", "a name of its own", required=True),
        Key(
            "claimed_lumens_lm",
            "number",
            "the lumens that the seller claims",
            required=True,
            unit="lm",
            low=0.1,
            high=20000,
        ),
        Key("colour", "text", "the colour of a coloured LED", choices=LED_COLOURS),
        Key("peak_nm", "number", "the wavelength of the peak of a coloured LED", unit="nm", low=400, high=720),
        Key("fwhm_nm", "number", "the width at half of the peak", unit="nm", low=5, high=150),
        Key("cct_K", "number", "the correlated colour temperature of a white LED", unit="K", low=2200, high=8000),
        Key("duv", "number", "how far a white LED lies off the Planckian locus", low=-0.01, high=0.01),
        Key("spectrum", "text", "a CSV file with the measured spectrum, in the same folder"),
        Key("outside", "text", "what to do beyond the ends of that table: 'zero' or 'hold'", choices=OUTSIDE),
        Key("power_W", "number", "the electrical power", unit="W", low=0.01, high=200),
        Key("voltage_V", "number or range", "the supply that it is made for", unit="V", low=4, high=60),
        Key("true_over_claimed", "range", "true over claimed lumens, 95 % range", low=0.01, high=3),
        Key("layout", "text", "where its emitters look", choices=("all-round", "forward")),
        Key("feed", "text", "what limits its current", choices=("regulated", "resistor")),
        Key("either_polarity", "yes or no", "whether it lights either way round"),
        Key("dim_level_of", "text", "the light source of which this is the dim level"),
        Key("base", "text", "its base, as in 'BA15s'"),
        Key("price", "number", "the price of one", low=0, high=1e5),
        Key("note", "long text", "anything worth keeping"),
    ),
    "lens": (
        Key("name", "text", "a name of its own", required=True),
        Key("colour", "text", "the colour seen with a filament lamp behind it", required=True, choices=COLOURS),
        Key("material", "text", "'plastic' or 'old glass'", choices=MATERIALS),
        Key("curve", "text", "a CSV file with the measured transmittance, in the same folder"),
        Key("outside", "text", "what to do beyond the ends of that table: 'zero' or 'hold'", choices=OUTSIDE),
        Key("edge_nm", "number", "the wavelength at half of the plateau", unit="nm", low=400, high=700),
        Key("width_nm", "number", "the width of the edge", unit="nm", low=2, high=40),
        Key("edge_uncertainty_nm", "number", "the standard uncertainty of the edge", unit="nm", low=0.1, high=20),
        Key("luminous_transmittance", "number", "that under illuminant A", low=0.001, high=0.95),
        Key("x", "number", "chromaticity x behind the lens under illuminant A", low=0, high=0.8),
        Key("y", "number", "chromaticity y behind the lens under illuminant A", low=0, high=0.9),
        Key("thickness_ratio", "number", "thickness over that of the lens so described", low=0.1, high=10),
        Key("dye_left", "number", "share of the dye that fading has left", low=0.01, high=3),
        Key("note", "long text", "anything worth keeping"),
    ),
    "circuit": (
        Key("name", "text", "a name of its own", required=True),
        Key("fuse_A", "number", "the continuous rating of the fuse", unit="A", low=0.5, high=100),
        Key("wire_length_m", "number", "the length from the supply to the lamps, one way", unit="m", low=0.1, high=60),
        Key("wire_area_mm2", "number", "the section of the conductor", unit="mm2", low=0.2, high=50),
        Key("switch_rating_A", "number", "what the switch may carry", unit="A", low=0.1, high=100),
        Key("flasher", "text", "the kind of flasher", choices=FLASHERS),
        Key("flasher_rated_load_W", "number", "the lamp load printed on the flasher", unit="W", low=1, high=500),
        Key("tell_tale", "text", "how the tell-tale of the turn lamps is connected", choices=TELL_TALES),
        Key("tell_tale_W", "number", "the power of its lamp", unit="W", low=0.05, high=10),
        Key("note", "long text", "anything worth keeping"),
    ),
    "part": (
        Key("name", "text", "a name of its own", required=True),
        Key(
            "kind",
            "text",
            "what it is",
            required=True,
            choices=("load-independent flasher", "ballast resistor", "pair of diodes"),
        ),
        Key("price", "number", "the price of one", required=True, low=0, high=1e5),
        Key("resistance_ohm", "number", "the resistance of a ballast resistor", unit="ohm", low=0.1, high=10000),
        Key("power_W", "number", "the rated power of a ballast resistor", unit="W", low=0.1, high=500),
        Key("note", "long text", "anything worth keeping"),
    ),
    "lamp": (
        Key("name", "text", "a name of its own", required=True),
        Key("function", "text", "the lamp function, as in 'stop'", required=True),
        Key("lens", "text", "the colour of the lens, or the name of a [[lens]]", required=True),
        Key("filament", "text", "the designation of the filament lamp, as in 'P21W'", required=True),
        Key("candidates", "texts", "a list of names of light sources on offer", required=True),
        Key("position", "text", "where it sits", choices=POSITIONS),
        Key("lens_material", "text", "'plastic' or 'old glass'", choices=MATERIALS),
        Key("filament_part", "text", "which filament of a double-filament lamp", choices=("major", "minor")),
        Key("holder", "text", "the lamp holder, where two lamps share a double-filament one"),
        Key("quantity", "whole number", "how many light sources the lamp takes", low=1, high=20),
        Key("road_rule", "yes or no", "whether a road rule sets limits for it"),
        Key("circuit", "text", "the name of a [[circuit]]"),
        Key(
            "intensity_cd",
            "number",
            "the intensity on the axis with the filament, as measured",
            unit="cd",
            low=0.01,
            high=1e5,
        ),
        Key("compartments", "whole number", "how many lighted compartments it has", low=1, high=3),
        Key(
            "headlamp_spacing_mm",
            "number",
            "the gap between the lit edge of a front turn lamp and that of the headlamp",
            unit="mm",
            low=0,
            high=2000,
        ),
        Key("note", "long text", "anything worth keeping"),
    ),
}
"""The keys of each section, the required ones among them. Source: the kit's own convention."""
