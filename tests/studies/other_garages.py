"""Do the intervals hold in garages that are not of the kit's own shapes, read with a phone or with a lux meter?

Design, written down before the first run; what was changed after it stands at the end.

Population. A garage is a lens, a filament, an LED, a meter and an afternoon. Nothing is drawn by the kit's models.

- Lens: red or amber. The edge is an error function, a logistic or a Hill curve, 1/(1 + (e/l)^n), one third each. The
  middle lies where tungsten through it is a signal colour: red 590 nm to 612 nm, amber 540 nm to 556 nm; from a tenth
  to nine tenths it takes 12 nm to 30 nm; plateau 0.80 to 0.92 and sloping by up to 5 %; a floor of 1e-5 to 1e-3.
- Filament: Planck at 2500 K to 2900 K, tilted as tungsten is.
- LED: red, amber, phosphor amber, or cool white. Red 614 nm to 638 nm and amber 587 nm to 600 nm when warm, with flanks
  exp(-|d|^p), p from 1.2 to 1.9, full width 13 nm to 21 nm. Phosphor amber: one Gaussian in energy at 596 nm to 606 nm,
  0.24 eV to 0.32 eV wide, with 0 to 1 % of pump. White: the garnets and nitrides of `white_leds`, 5500 K to 6500 K on
  the box. Behind red: red, cool white. Behind amber: amber, phosphor amber, cool white.
- Phone: green and red channels of a camera or an ambient light sensor. V(l) moved by 5 nm (standard deviation), to the
  power of 0.8 to 1.25; or one Gaussian 540 nm to 565 nm, 95 nm to 130 nm wide; or two Gaussians. In one half a filter
  against infrared that closes at 640 nm to 690 nm, in the other one at 690 nm to 750 nm, as an error function 8 nm to
  20 nm wide. A leak beyond 700 nm in one half, 1e-4 to 5e-3 of the peak, falling off to 1000 nm. Gain within 15 %.
- Lux meter: V(l) with a smooth error, a sum of five sines in wavelength from 400 nm to 720 nm, scaled so that f1' is
  lognormal about 2.4 % with 0.45; in one fifth a leak of up to 1e-4. Gain within 5 %.
- Supply: a battery at rest between 12.2 V and 12.7 V that moves by 0.12 V (standard deviation) for each lamp; in one
  half of the garages each lamp's voltage is noted to 0.1 V. The filament goes by the power 3.3 to 3.5; an LED is
  regulated or behind a resistor (power 1.0 to 2.0), and it is not told which. What is to be held is the ratio at the
  voltages that were kept, both at the mean of the two, or at 13.5 V where they are noted.
- The afternoon: 0.3 m to 1.0 m, the distance off by 4 mm, the optical centre by 5 mm from lamp to lamp, tilt 4 deg, a
  face of 60 mm to 110 mm with a beam of cos^1 to cos^12, a background of 1 lx that wanders by 3 % between readings,
  digits of 0.1 lx, two readings of each lamp, each between two backgrounds. The filament gives 5 cd to 60 cd. One meter
  in two was tried with a remote control, and says what it is.

Told to the kit: the colour of the lens, the designation of the filament, the colour or the kelvin of the LED, phone or
lux meter of class B and what it showed of infrared ('some' where the leak is above 3e-4), the voltages where they are
noted.

What is counted: how often the 95 % interval of the fair ratio holds the truth, light given; by meter, and by lens and
LED. Goal: 93 % to 97 % over all, at least 90 % in each cell of lens and LED, phones and lux meters apart.

After the first runs (40, then 100 garages of each cell and each meter): nothing was changed, in the kit or in the
garages, but that an error which stopped the script was mended. Then 96.1 % of 998 garages were held. Since then the
white LED was narrowed (`white_leds`), and a lux meter whose class is not told became as uncertain as measured ones are,
so that these say that they are of class B; the run was made anew with 200 garages of each cell and each meter, the
table beside this. Held in 96.2 % (standard error 0.4 %) of 2000 garages, phones 95.6 %, lux meters 96.8 %; the worst
cell is a red LED behind red with a phone, 90.5 % (standard error 2.1 %).

    python tests/studies/other_garages.py [garages of each cell]
"""

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import ndtr

import lampkit as lk
from tests.studies import white_leds

Array = NDArray[np.float64]
LONG = np.arange(360.0, 1001.0)
GRID = LONG.size - 170
V = np.interp(LONG, lk.grid.WAVELENGTHS, lk.light.luminous_efficiency(), right=0.0)
CELLS = (
    ("red", "red LED"),
    ("red", "cool white LED"),
    ("amber", "amber LED"),
    ("amber", "phosphor amber LED"),
    ("amber", "cool white LED"),
)
METERS = {"phone": "phone,", "lux meter": "lux meter,B"}
"""What the log tells of each under meter_kind and meter_class; B is what its manual would state."""

RESULT = Path(__file__).with_suffix(".csv")


def lens(rng: Generator, colour: str, width: float | None = None) -> Array:
    """One lens; its edge as wide as is asked for, or as drawn."""
    middle = rng.uniform(590.0, 612.0) if colour == "red" else rng.uniform(540.0, 556.0)
    drawn, shape = rng.uniform(12.0, 30.0), rng.integers(3)
    width = drawn if width is None else width
    if shape == 0:
        edge = ndtr((LONG - middle) * 2.563 / width)
    elif shape == 1:
        edge = 1.0 / (1.0 + np.exp(-(LONG - middle) * 4.394 / width))
    else:
        edge = 1.0 / (1.0 + (middle / LONG) ** (middle * 4.394 / width))
    floor = 10.0 ** rng.uniform(-5.0, -3.0)
    plateau = rng.uniform(0.80, 0.92) * (1.0 + rng.uniform(-0.05, 0.05) * np.clip((LONG - 650.0) / 100.0, -1.0, 1.0))
    return floor + (1.0 - floor) * plateau * edge


def tungsten(temperature: float) -> Array:
    hot = (LONG / 560.0) ** -5.0 / np.expm1(1.4388e7 / (LONG * temperature))
    return hot * (1.0 - 1.4e-4 * (LONG - 560.0))


def beyond(spectrum: Array) -> Array:
    """On to 1000 nm, dark."""
    return np.concatenate([spectrum, np.zeros(LONG.size - spectrum.size)])


def emitter(rng: Generator, kind: str) -> Array:
    if kind == "cool white LED":
        return beyond(white_leds.made_up(rng, float(rng.choice([5700.0, 6500.0])))[1])
    if kind == "phosphor amber LED":
        pump = white_leds.bell(450.0, 0.1)
        glow = white_leds.bell(rng.uniform(596.0, 606.0), rng.uniform(0.24, 0.32))
        return beyond(glow + rng.uniform(0.0, 0.01) * pump)
    peak = rng.uniform(614.0, 638.0) if kind == "red LED" else rng.uniform(587.0, 600.0)
    half, power = 0.5 * rng.uniform(13.0, 21.0), rng.uniform(1.2, 1.9)
    skewed = half * np.where(peak > LONG, 1.12, 0.88)
    return np.exp(-np.log(2.0) * (np.abs(LONG - peak) / skewed) ** power)


def bell(middle: float, width: float) -> Array:
    return np.exp(-4.0 * np.log(2.0) * ((LONG - middle) / width) ** 2)


def phone(rng: Generator) -> tuple[Array, float]:
    kind = rng.integers(3)
    if kind == 0:
        base = np.interp(LONG - rng.normal(0.0, 5.0), LONG, V) ** rng.uniform(0.8, 1.25)
    elif kind == 1:
        base = bell(rng.uniform(540.0, 565.0), rng.uniform(95.0, 130.0))
    else:
        base = bell(rng.uniform(530.0, 550.0), rng.uniform(80.0, 105.0))
        base = base + rng.uniform(0.3, 0.6) * bell(rng.uniform(588.0, 602.0), rng.uniform(70.0, 95.0))
    closes = rng.uniform(640.0, 690.0) if rng.random() < 0.5 else rng.uniform(690.0, 750.0)
    base = base * ndtr((closes - LONG) / (0.5 * rng.uniform(8.0, 20.0)))
    leak = 0.0 if rng.random() < 0.5 else 10.0 ** rng.uniform(-4.0, -2.3)
    return base / base.max() + leak * np.clip((1000.0 - LONG) / 250.0, 0.0, 1.0) * (LONG > 700.0), leak


def lux_meter(rng: Generator) -> tuple[Array, float]:
    wave = sum(
        rng.normal() * np.sin(2.0 * np.pi * (n + 1) * (LONG - 400.0) / 320.0 + rng.uniform(0.0, 6.3)) for n in range(5)
    )
    light = tungsten(2856.0)

    def index(size: float) -> float:
        curve = V * (1.0 + size * wave)
        curve = curve * (light @ V) / (light @ curve)
        return float(np.abs(curve - V).sum() / V.sum())

    wanted = 0.024 * np.exp(rng.normal(0.0, 0.45))
    size = wanted / index(0.01) * 0.01
    leak = 10.0 ** rng.uniform(-5.0, -4.0) if rng.random() < 0.2 else 0.0
    return np.maximum(V * (1.0 + size * wave), 0.0) + leak * (LONG > 700.0), leak


def disc(distance: float, face: float, exponent: float) -> float:
    square = (0.5 * face / distance) ** 2
    return 2.0 / ((exponent + 1.0) * square) * (1.0 - (1.0 + square) ** (-0.5 * (exponent + 1.0)))


def garage(rng: Generator, cell: tuple[str, str], meter: str) -> tuple[str, float]:
    """Make one afternoon: what was written down, and the ratio that holds for the eye."""
    colour, kind = cell
    glass, hot, light = lens(rng, colour), tungsten(rng.uniform(2500.0, 2900.0)), emitter(rng, kind)
    response, leak = phone(rng) if meter == "phone" else lux_meter(rng)
    standard = tungsten(2856.0)
    through = {"filament": hot * glass, "LED": light * glass}
    read = {n: (s @ response) / (s @ V) / ((standard @ response) / (standard @ V)) for n, s in through.items()}
    old, ratio = np.exp(rng.uniform(np.log(5.0), np.log(60.0))), np.exp(rng.normal(np.log(0.9), 0.5))
    intensity = {"filament": old, "LED": old * ratio}
    noted, tried = rng.random() < 0.5, rng.random() < 0.5
    volts = {n: rng.uniform(12.2, 12.7) for n in ("filament",)}
    volts["LED"] = volts["filament"] + rng.normal(0.0, 0.12 * np.sqrt(2.0))
    powers = {"filament": rng.uniform(3.3, 3.5), "LED": 0.0 if rng.random() < 0.5 else rng.uniform(1.0, 2.0)}
    middle = 13.5 if noted else 0.5 * (volts["filament"] + volts["LED"])
    gain = float(np.exp(rng.normal(0.0, 0.15 if meter == "phone" else 0.05)))
    nominal, offset = float(rng.choice([0.3, 0.5, 0.7, 1.0])), rng.normal(0.0, 0.004)
    face, level = rng.uniform(0.06, 0.11), float(np.exp(rng.normal(0.0, 0.5)))
    bend = rng.uniform(-0.015, 0.015) if meter == "phone" else rng.uniform(-0.005, 0.005)
    infrared = ("some" if leak > 3e-4 else "none") if tried else "not tried"
    stated = METERS[meter]
    lines = ["lamp,source,state,illuminance_lx,distance_m,meter_kind,meter_class,infrared,supply_V"]

    def shown(true: float) -> str:
        return f"{max(gain * true * (1.0 + bend * np.log10(max(true, 0.01) / 100.0)), 0.0):.1f}"

    def dark() -> str:
        nonlocal level
        level *= float(np.exp(0.03 * rng.standard_normal()))
        return f"Lamp,,off,{shown(level)},{nominal},{stated},{infrared},"

    for name in ("filament", "LED"):
        beam, centre = rng.uniform(1.0, 12.0), rng.normal(0.0, 0.005)
        supply = (volts[name] / middle) ** powers[name]
        lines.append(dark())
        for _ in range(2):
            d = nominal + offset + centre + rng.normal(0.0, 0.002)
            handling = np.cos(np.radians(rng.normal(0.0, 4.0))) ** rng.uniform(1.0, 1.4)
            handling *= np.cos(np.radians(rng.normal(0.0, 1.5))) ** beam * (1.0 + rng.normal(0.0, 0.008))
            true = intensity[name] * supply * handling * disc(d, face, beam) / d**2
            told = f"{volts[name]:.1f}" if noted else ""
            lines.append(f"Lamp,{name},on,{shown(true * read[name] + level)},{nominal},{stated},{infrared},{told}")
            lines.append(dark())
    return "\n".join(lines), float(ratio)


def described(kind: str) -> lk.sources.LightSource:
    """What the person tells the kit of the LED."""
    if kind == "cool white LED":
        return lk.sources.white_led(6000, luminous_flux=100, name="LED")
    return lk.sources.coloured_led(kind.removesuffix(" LED"), luminous_flux=100, name="LED")


def run(garages: int, *, seed: int = 20261125, draws: int = 500) -> Iterator[dict[str, object]]:
    """Hold the kit's interval against the truth in so many garages of each cell."""
    filament = lk.sources.filament("P21W", name="filament")
    for cell in CELLS:
        colour, kind = cell
        known, glass = described(kind), lk.lenses.load(colour)
        light = None
        for number in range(garages):
            for meter in METERS:
                rng = np.random.default_rng([seed, number, CELLS.index(cell), list(METERS).index(meter)])
                text, truth = garage(rng, cell, meter)
                try:
                    log = lk.measurement.read_log(text)
                except lk.errors.InputError:
                    continue
                if light is None:
                    light = lk.measurement.colour_response.light_at_meter(
                        log, {"filament": filament, "LED": known}, {"Lamp": glass}, draws=draws
                    )
                found = lk.measurement.compare_readings(log, light=light, draws=draws, seed=1 + number).ratios[0]
                low, middle, high = found.ratio
                yield {
                    "meter": meter,
                    "lens": colour,
                    "LED": kind,
                    "noted": "supply" if log.readings[0].supply is not None else "",
                    "held": bool(low <= truth <= high),
                    "below": bool(truth < low),
                    "width": float(np.log(high / low)),
                    "off": float(np.log(middle / truth)),
                }


def summary(found: list[dict[str, object]]) -> list[dict[str, object]]:
    """Count how often the interval held the truth: over all, by meter, and in each cell of lens and LED."""
    rows = []
    keys = [("all", "all", "all"), *((meter, "all", "all") for meter in METERS)]
    keys += [(meter, *cell) for meter in METERS for cell in CELLS] + [("all", *cell) for cell in CELLS]
    for meter, colour, kind in keys:
        used = [
            r
            for r in found
            if meter in ("all", r["meter"]) and colour in ("all", r["lens"]) and kind in ("all", r["LED"])
        ]
        held = np.mean([bool(r["held"]) for r in used])
        rows.append(
            {
                "meter": meter,
                "lens": colour,
                "LED": kind,
                "garages": len(used),
                "coverage": round(float(held), 3),
                "standard_error": round(float(np.sqrt(held * (1 - held) / len(used))), 3),
                "truth_below": round(float(np.mean([bool(r["below"]) for r in used])), 3),
                "median_width_ln": round(float(np.median([r["width"] for r in used])), 3),
                "median_off_ln": round(float(np.median([r["off"] for r in used])), 3),
            }
        )
    return rows


def main() -> None:
    """Write the table."""
    white_leds.write(RESULT, summary(list(run(int(sys.argv[1]) if len(sys.argv) > 1 else 300))))


if __name__ == "__main__":
    main()
