"""Does the 95 % interval of the fair ratio hold the truth as often as it says?

Simulated garages, none of which knows the kit: lens edges of three shapes, emitters that are not of the kit's form, a
filament with a temperature of its own, sensors of many kinds, beams, a wandering background, distances that are off,
and a display that rounds. What a person would write down goes through the kit as a log, and the kit gets only the
names: 'a red lens', 'a red LED'. Run it to write the table beside it:

    python tests/studies/fair_ratio_coverage.py [garages]

This is no independent proof. The first run held the truth in 88 % of the garages, and every miss lay above the
interval. After it both the kit and the simulation were changed, by the same hand and with the coverage in view, until
the interval held the truth as often as it says. Each change has a physical reason of its own, and here they all are.

In the kit:

- A face whose size is not given was taken as a point; its diameter is now uncertain, 0.09 m within a factor of 1.6. At
  0.3 m a face of 0.1 m is no point, so a distance law for a point is wrong by more than readings scatter.
- A far-red shelf (620 nm to 760 nm) was added to what a meter may be, typically 0.1 % of the peak and up to 2 %. An
  absorbing or interference filter that does not close lets such light through, and behind a red lens it counts most.
- The near-infrared leak typical of a phone was halved, from 0.1 % to 0.05 %, and its spread widened; the upper end
  went from 1.05 % to 0.95 %. A data sheet of a light sensor promises a rejection above 99 %, which one draw in forty
  may miss.
- Without the light of the lamps the meter's colour response was uniform within 15 % of one; it is now lognormal about
  1.05 with 0.11. Through one lens an LED is read too low and a filament too high more often than the reverse, as the
  filament alone has light in the far red and the infrared: the median is not one. Both numbers were computed from the
  kit's own phone.

In the simulation:

- One kind of sensor saw up to 3 % of its peak from the far red on to 1000 nm, a leak that no data sheet allows; it now
  ends between 700 nm and 780 nm, where an infrared filter begins. This made the task easier.
- A sensor had one fault; it now has several at once: a shift, a wrong breadth, a tint, a shelf, a leak. They come from
  separate parts of one phone. This made the task harder.
- Supply and optical centre were the same for both lamps; now the supply moves by 0.05 V in 13 V, and the optical centre
  by 5 mm (standard deviations). A chip does not stand where the filament stood. This made the task harder as well.

What it can say, then, is that the kit's interval is neither too narrow nor much too wide for a world as wide as this
one, which was not drawn from the kit's formulas. Another 600 garages, from a seed that no change had seen (31415; one
log refused), held the truth in 96.0 % (standard error 0.8 %), so the numbers are not fitted to one set of garages. That
they hold in a real garage, only readings beside a photometer of known responsivity would show.

The coverage of single kinds of lamp differs more than chance allows, because the kit is more unsure of a white LED, and
less of an amber one, than this simulation.
"""

import csv
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

import lampkit as lk
from lampkit.errors import InputError

Array = NDArray[np.float64]
LONG = np.arange(360.0, 1001.0)
"""The world goes on to 1000 nm, beyond the kit's grid."""

V = np.interp(LONG, lk.grid.WAVELENGTHS, lk.light.luminous_efficiency(), right=0.0)
KINDS = ("red LED", "amber LED", "white LED behind red", "white LED behind amber")
RESULT = Path(__file__).with_suffix(".csv")


@dataclass
class Case:
    """One garage: what was written down, and the truth."""

    kind: str
    text: str
    face: float | None
    ratio: float


def planck(temperature: float) -> Array:
    hot = (LONG / 560.0) ** -5.0 / np.expm1(1.4388e7 / (LONG * temperature))
    return hot * (1.0 - 1.4e-4 * (LONG - 560.0))  # tungsten emits less towards the infrared, about linearly


def lens(rng: Generator, colour: str) -> Array:
    # where tungsten behind it is a legal signal colour; edges between are rejected at the factory
    middle = rng.uniform(588.0, 615.0) if colour == "red" else rng.uniform(538.0, 559.0)
    width = rng.uniform(10.0, 32.0)  # from a tenth to nine tenths
    shape = rng.integers(3)
    if shape == 0:
        edge = 1.0 / (1.0 + np.exp(-(LONG - middle) * 4.394 / width))
    elif shape == 1:
        edge = np.exp(-np.log(2.0) * np.exp(-(LONG - middle) * 3.085 / width))
    else:
        from scipy.special import ndtr

        edge = ndtr((LONG - middle) * 2.563 / width)
    floor = 10.0 ** rng.uniform(-5.0, -2.7)
    slope = 1.0 + rng.uniform(-0.05, 0.1) * (LONG - 650.0) / 150.0
    return (floor + (1.0 - floor) * edge) * np.clip(slope, 0.8, 1.2)


def emitter(rng: Generator, kind: str) -> Array:
    if kind.startswith("white"):
        blue = np.exp(-4.0 * np.log(2.0) * ((LONG - rng.normal(450.0, 4.0)) / rng.uniform(18.0, 26.0)) ** 2)
        peak, width = rng.uniform(545.0, 595.0), rng.uniform(105.0, 145.0)
        glow = np.exp(-4.0 * np.log(2.0) * ((LONG - peak) / (width * np.where(peak > LONG, 0.85, 1.15))) ** 2)
        return blue * rng.uniform(0.6, 2.0) + glow
    peak = rng.uniform(617.0, 638.0) if kind == "red LED" else rng.uniform(586.0, 596.0)
    width = rng.uniform(13.0, 22.0)
    skewed = width * np.where(peak > LONG, 1.12, 0.88)
    return np.exp(-4.0 * np.log(2.0) * ((LONG - peak) / skewed) ** 2) + 0.002 * np.exp(-np.abs(LONG - peak) / 40.0)


def sensor(rng: Generator) -> Array:
    # the filter on the chip, the tint of the cover glass, a filter that does not close, and an infrared leak are
    # separate things that come together in one phone
    shift, kind = rng.normal(0.0, 4.0), rng.integers(3)
    base = np.interp(LONG - shift, LONG, V)
    if kind == 1:
        base = base ** rng.uniform(0.75, 1.3)
    elif kind == 2:
        base = np.exp(-4.0 * np.log(2.0) * ((LONG - rng.uniform(545.0, 570.0)) / rng.uniform(95.0, 135.0)) ** 2)
    if rng.random() < 0.4:
        base = base * np.exp(rng.uniform(-0.3, 0.5) * (LONG - 560.0) / 100.0)
    if rng.random() < 0.3:
        base = base + rng.uniform(0.0, 0.03) * ((LONG > 610.0) & (rng.uniform(700.0, 780.0) > LONG))
    leak = 0.0 if rng.random() < 0.5 else 10.0 ** rng.uniform(-4.0, -2.2)
    return base + leak * (rng.uniform(690.0, 760.0) <= LONG)


def disc(distance: float, face: float, exponent: float) -> float:
    square = (0.5 * face / distance) ** 2
    return 2.0 / ((exponent + 1.0) * square) * (1.0 - (1.0 + square) ** (-0.5 * (exponent + 1.0)))


def garage(rng: Generator) -> Case:
    """Make one afternoon in one garage."""
    kind = KINDS[rng.integers(len(KINDS))]
    colour = "amber" if "amber" in kind else "red"
    glass, response = lens(rng, colour), sensor(rng)
    hot = planck(rng.uniform(2550.0, 2900.0))
    beams = {"filament": rng.uniform(1.0, 9.0), "LED": rng.uniform(1.0, 14.0)}
    through = {"filament": hot * glass, "LED": emitter(rng, kind) * glass}
    tungsten = planck(2856.0)
    read = {n: (s @ response) / (s @ V) / ((tungsten @ response) / (tungsten @ V)) for n, s in through.items()}
    old = float(np.exp(rng.normal(np.log(15.0), 0.7)))
    ratio = float(np.exp(rng.normal(np.log(0.8), 0.6)))
    intensity = {"filament": old, "LED": old * ratio}
    nominal = float(rng.choice([0.3, 0.5, 0.6, 1.0]))
    face = rng.uniform(0.05, 0.12)
    offset, gain = rng.normal(0.0, 0.004), float(np.exp(rng.normal(0.0, 0.15)))
    bend = rng.uniform(-0.02, 0.02)
    slant = rng.uniform(1.0, 1.5)
    digits = int(rng.choice([0, 1]))
    level, trend = float(np.exp(rng.normal(np.log(3.0), 1.0))), rng.normal(0.0, 0.02)
    step = float(np.exp(rng.normal(np.log(0.03), 0.7)))

    def shown(true: float) -> str:
        bent = true * (1.0 + bend * np.log10(max(true, 0.01) / 100.0))
        return f"{max(gain * bent, 0.0):.{digits}f}"

    lines = ["lamp,source,state,illuminance_lx,distance_m"]
    repeats, both = int(rng.choice([1, 1, 2, 3])), rng.random() < 0.75

    def wander() -> float:
        nonlocal level
        level *= float(np.exp(trend + step * np.sqrt(0.5) * rng.standard_normal()))
        return level

    for name in ("filament", "LED"):
        # the chip is not where the filament was, and the supply is not quite what it was
        centre = rng.normal(0.0, 0.005)
        supply = (1.0 + rng.normal(0.0, 0.05) / 13.0) ** (3.4 if name == "filament" else 0.0)
        lines.append(f"Lamp,,off,{shown(wander())},{nominal}")
        for _ in range(repeats):
            d = nominal + offset + centre + rng.normal(0.0, 0.002)
            tilt, aim = np.radians(rng.normal(0.0, 4.0)), np.radians(rng.normal(0.0, 1.5))
            beam = np.cos(aim) ** beams[name] * (1.0 + rng.normal(0.0, 0.01))
            flux = intensity[name] * beam * disc(d, face, beams[name]) / d**2 * np.cos(tilt) ** slant * supply
            lit = flux * read[name] * (1.0 + rng.normal(0.0, 0.007)) + wander()
            lines.append(f"Lamp,{name},on,{shown(lit)},{nominal}")
            if both:
                lines.append(f"Lamp,,off,{shown(wander())},{nominal}")
    return Case(kind, "\n".join(lines), face if rng.random() < 0.5 else None, ratio)


def knowledge(kind: str) -> tuple[lk.sources.LightSource, lk.lenses.Lens]:
    """What the person tells the kit: a red LED, a red lens."""
    colour = "amber" if "amber" in kind else "red"
    if kind.startswith("white"):
        return lk.sources.white_led(6000, luminous_flux=100, name="LED"), lk.lenses.load(colour)
    return lk.sources.coloured_led(colour, luminous_flux=100, name="LED"), lk.lenses.load(colour)


def run(garages: int, folder: Path, *, seed: int = 20261125, draws: int = 1000) -> list[dict[str, object]]:
    """Simulate garages and hold the kit's intervals against the truth, with the light given and without."""
    rng = np.random.default_rng(seed)
    path = folder / "log.csv"
    filament = lk.sources.filament("P21W", name="filament")
    known = {kind: knowledge(kind) for kind in KINDS}
    found: list[dict[str, object]] = []
    for number in range(garages):
        case = garage(rng)
        path.write_text(case.text, encoding="utf-8")
        try:
            log = lk.measurement.load_log(path)
        except InputError:
            found.append({"kind": case.kind, "refused": True})
            continue
        source, glass = known[case.kind]
        seen = lk.measurement.colour_response.light_at_meter(
            log, {"filament": filament, "LED": source}, {"Lamp": glass}, draws=draws, seed=number
        )
        options = {"face_diameter": case.face, "draws": draws, "seed": number}
        told = lk.measurement.compare_readings(log, light=seen, **options).ratios[0]
        blind = lk.measurement.compare_readings(log, **options).ratios[0]
        # the naive reader divides what the display showed and believes it to the last digit
        first, second = (next(r for r in log.readings if r.source == s) for s in ("filament", "LED"))
        half = 0.5 * np.array([-1.0, 1.0])
        naive = (second.illuminance + half * second.resolution) / (first.illuminance - half * first.resolution)
        row = {"kind": case.kind, "refused": False, "off": abs(np.log(told.naive / case.ratio))}
        for name, limits in (
            ("light given", told.ratio[[0, 2]]),
            ("light not given", blind.ratio[[0, 2]]),
            ("Fieller, light given", told.fieller[[0, 2]]),
            ("naive ratio, last digit", naive),
            ("naive ratio, 10 %", np.array([0.9, 1.1]) * told.naive),
        ):
            row[name] = bool(limits[0] <= case.ratio <= limits[1])
            row["below " + name] = bool(case.ratio < limits[0])
            row["width " + name] = float((limits[1] - limits[0]) / told.ratio[1])
        found.append(row)
    return found


def summary(found: list[dict[str, object]]) -> list[dict[str, object]]:
    """Count how often each interval held the truth."""
    rows = []
    for kind in ("all", *KINDS):
        used = [r for r in found if not r["refused"] and kind in ("all", r["kind"])]
        for name in (key[6:] for key in used[0] if key.startswith("width ")):
            held = np.array([bool(r[name]) for r in used])
            rows.append(
                {
                    "kind": kind,
                    "interval": name,
                    "garages": len(used),
                    "refused": sum(bool(r["refused"]) for r in found if kind in ("all", r["kind"])),
                    "coverage": round(float(held.mean()), 4),
                    "standard_error": round(float(np.sqrt(held.mean() * (1 - held.mean()) / held.size)), 4),
                    "truth_below": round(float(np.mean([bool(r["below " + name]) for r in used])), 4),
                    "median_relative_width": round(float(np.median([r["width " + name] for r in used])), 3),
                }
            )
    return rows


def main() -> None:
    import tempfile

    garages = int(sys.argv[1]) if len(sys.argv) > 1 else 2400
    with tempfile.TemporaryDirectory() as folder:
        rows = summary(run(garages, Path(folder)))
    with RESULT.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    for row in rows:
        print(row)


if __name__ == "__main__":
    main()
