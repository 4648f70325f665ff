"""How well does the kit know a lens that is not of its own shape, and does its K of a cool white hold the truth?

Design, written down before the first run; what was changed after it stands at the end.

Population. Lenses, filament, LEDs, lux meters and phones are those of `other_garages`, which the kit's models did not
draw. Besides:

- Filament: 2720 K to 2880 K at 13.5 V, as the designation that is told has (its colour goes with the voltage to the
  power 0.36 to 0.40); K is held at 13.5 V, the readings are made at the battery's voltage, that is redder.
- Green LED: 515 nm to 530 nm when warm, full width 28 nm to 40 nm, flanks as of the others.
- What is read, each with the lens fitted and removed, two readings each, every one between two backgrounds: behind red
  a filament, a red and an amber LED; behind amber a filament, an amber and a green LED.
- Lumens: the filament 0.95 to 1.05 of its rating, of which an old bulb lets 0.75 to 0.90 through; an LED 0.5 to 1.05 of
  the box, 0.7 to 0.95 of that when warm, its beam 0.4 to 1.4 of the filament's. All uniform.
- Plain: a flat lens, or a piece of it held before the meter. Patterned: prisms send 0.4 to 2.5 times the light to the
  meter, and 2 % (standard deviation) more or less from one source to the next.
- The afternoon: the meter on a stand at 0.3 m or 0.5 m from a lamp of 0.2 to 1 cd for each lumen; the distance off by
  4 mm in all readings and by 3 mm from one set-up to the next; tilt 2 deg, aim 1.5 deg in a beam of cos^1 to cos^12; a
  background of 1 lx that wanders by 3 %; digits of 0.1 lx. A battery between 12.2 V and 12.7 V that moves by 0.12 V
  (standard deviation) from one source to the next and by 0.03 V between lens on and off; it is noted to 0.1 V in one
  half of the garages.

Told to the kit: the colour of the lens, plain or patterned, the designation of the filament, the colour and the lumens
of the LEDs, phone or lux meter and what it showed of infrared, the voltages where they are noted.

What is held against the truth: the edge, which is where half of the plateau is reached; K of a cool white LED of 6000 K
on the box that was not read (a make of `white_leds`, 5700 K or 6500 K), against the filament of the garage; and K of
the same white when its spectrum is given. Goal, with a lux meter and a plain red lens: edge 2.5 nm (root mean square),
K of the cool white held in at least 93 %. Everything else is told and has no goal.

What was changed. After a trial of three garages of each cell, in the design: the filament had been drawn from 2500 K to
2900 K, whatever designation was told. After the first run (60 of each cell: edge 1.8 nm, K of the cool white held in
97 %), in the kit: the filament is as red as the battery at which it was read, which moved the edge by 0.4 nm; and the
white LED was narrowed, for reasons told in `white_leds`. In the design nothing more.

What it shows (200 of each cell). With a lux meter the edge of a plain red lens is found to 2.2 nm and K of the cool
white is held in 98 %; in the other cells of the lux meter it is held in 93 % to 97 %. A phone finds the edge to 4 nm.
Edges come out 1 nm to 2.5 nm too long, most with prisms and with a phone; why was not found out. Where the spectrum of
the LED is given, so that K rests on the lens alone, shapes of edge that the kit does not have cost coverage: 96 % is
held behind plain red with a lux meter, but 84 % behind a patterned red lens and 86 % with a phone.
"""

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.random import Generator

import lampkit as lk
from tests.studies import other_garages, white_leds
from tests.studies.other_garages import GRID, LONG, Array, V

CELLS = (
    ("lux meter", "red", "plain"),
    ("lux meter", "red", "patterned"),
    ("lux meter", "amber", "plain"),
    ("lux meter", "amber", "patterned"),
    ("phone", "red", "plain"),
    ("phone", "amber", "plain"),
)
READ = {"red": ("filament", "red LED", "amber LED"), "amber": ("filament", "amber LED", "green LED")}
RESULT = Path(__file__).with_suffix(".csv")
HEAD = "lamp,source,state,illuminance_lx,distance_m,lens,meter_kind,infrared,supply_V"
BOX = 150.0


def emitter(rng: Generator, kind: str) -> Array:
    """An LED of `other_garages`, or a green one."""
    if kind != "green LED":
        return other_garages.emitter(rng, kind)
    peak, half, power = rng.uniform(515.0, 530.0), 0.5 * rng.uniform(28.0, 40.0), rng.uniform(1.2, 1.9)
    return np.exp(-np.log(2.0) * (np.abs(LONG - peak) / (half * np.where(peak > LONG, 0.88, 1.12))) ** power)


def middle_of(glass: Array) -> float:
    """Where half of the plateau is reached; the plateau is what is let through 40 nm beyond the steepest place."""
    steepest = int(np.argmax(np.gradient(glass)))
    plateau = glass[steepest + 40]
    return float(np.interp(0.5 * plateau, glass[: steepest + 40], LONG[: steepest + 40]))


def share(glass: Array, light: Array) -> float:
    return float((glass * light) @ V / (light @ V))


def garage(rng: Generator, cell: tuple[str, str, str], rated: float) -> tuple[str, dict[str, float], Array]:
    """Make one afternoon: what was written down, the truth, and the white LED that was not read."""
    meter, colour, pattern = cell
    glass = other_garages.lens(rng, colour)
    response, leak = other_garages.phone(rng) if meter == "phone" else other_garages.lux_meter(rng)
    standard = other_garages.tungsten(2856.0)
    temperature, cooling = rng.uniform(2720.0, 2880.0), rng.uniform(0.36, 0.40)
    hot = other_garages.tungsten(temperature)
    another = other_garages.emitter(rng, "cool white LED")
    bent = float(np.exp(rng.uniform(np.log(0.4), np.log(2.5)))) if pattern == "patterned" else 1.0
    optics = float(np.exp(rng.uniform(np.log(0.2), 0.0)))
    nominal, offset, face = float(rng.choice([0.3, 0.5])), rng.normal(0.0, 0.004), rng.uniform(0.06, 0.11)
    gain = float(np.exp(rng.normal(0.0, 0.15 if meter == "phone" else 0.05)))
    bend = rng.uniform(-0.015, 0.015) if meter == "phone" else rng.uniform(-0.005, 0.005)
    noted, tried, level = rng.random() < 0.5, rng.random() < 0.5, float(np.exp(rng.normal(0.0, 0.5)))
    infrared = ("some" if leak > 3e-4 else "none") if tried else "not tried"
    rest, running = rng.uniform(12.2, 12.7), 13.5
    lines = [HEAD]

    def shown(true: float) -> str:
        return f"{max(gain * true * (1.0 + bend * np.log10(max(true, 0.01) / 100.0)), 0.0):.1f}"

    def dark() -> str:
        nonlocal level
        level *= float(np.exp(0.03 * rng.standard_normal()))
        return f"stop,,off,{shown(level)},{nominal},,{meter},{infrared},"

    for name in READ[colour]:
        filament = name == "filament"
        if filament:
            flux = rated * rng.uniform(0.95, 1.05) * rng.uniform(0.75, 0.90)
        else:
            flux = BOX * rng.uniform(0.5, 1.05) * rng.uniform(0.7, 0.95) * rng.uniform(0.4, 1.4)
        power = rng.uniform(3.3, 3.5) if filament else 0.0 if rng.random() < 0.5 else rng.uniform(1.0, 2.0)
        beam, here = rng.uniform(1.0, 12.0), rest + rng.normal(0.0, 0.12)
        redder = other_garages.tungsten(temperature * (here / running) ** cooling)
        light = redder if filament else emitter(rng, name)
        uneven = float(np.exp(rng.normal(0.0, 0.02))) if pattern == "patterned" else 1.0
        for word in ("removed", "fitted"):
            passed = light * glass * bent * uneven if word == "fitted" else light
            seen = (passed @ response) / (light @ V) / ((standard @ response) / (standard @ V))
            volts = here + rng.normal(0.0, 0.03)
            handling = np.cos(np.radians(rng.normal(0.0, 2.0))) ** rng.uniform(1.0, 1.4)
            handling *= np.cos(np.radians(rng.normal(0.0, 1.5))) ** beam
            stands = nominal + offset + rng.normal(0.0, 0.003)
            told = f"{volts:.1f}" if noted else ""
            lines.append(dark())
            for _ in range(2):
                true = optics * flux * seen * (volts / running) ** power * handling * (1.0 + rng.normal(0.0, 0.008))
                true *= other_garages.disc(stands, face, beam) / stands**2
                lines.append(f"stop,{name},on,{shown(true + level)},{nominal},{word},{meter},{infrared},{told}")
                lines.append(dark())
    truth = {"edge": middle_of(glass), "white": share(glass, another) / share(glass, hot)}
    # Against the same hot wire, whose spectrum is part of the garage and not told.
    truth["given"] = truth["white"]
    return "\n".join(lines), truth, another


def run(garages: int, *, seed: int = 20261126, draws: int = 1500, cells: Sequence = CELLS) -> Iterator[dict]:
    """Let the kit learn so many lenses of each cell, and hold what it knows against the truth."""
    filament = lk.sources.filament("P21W", name="filament")
    told = {
        name: lk.sources.coloured_led(name.removesuffix(" LED"), luminous_flux=BOX, name=name)
        for name in ("red LED", "amber LED", "green LED")
    }
    sources = {"filament": filament, **told}
    white = lk.sources.white_led(6000.0, luminous_flux=100.0, name="white LED")
    model = lk.measurement.measurement_model
    patterns = {"plain": model.PLAIN, "patterned": model.PATTERNED}
    for cell in cells:
        lens = lk.lenses.load(cell[1])
        for number in range(garages):
            rng = np.random.default_rng([seed, number, CELLS.index(cell)])
            text, truth, another = garage(rng, cell, filament.luminous_flux)
            row: dict = {"cell": cell}
            try:
                log = lk.measurement.read_log(text)
                known = lk.measurement.learn_lens(
                    log, lens, sources, pattern=patterns[cell[2]], draws=draws, seed=1 + number
                )
            except lk.errors.InputError as error:
                yield {**row, "refused": str(error)}
                continue
            drawn, weights = known.garage.of(lens.name), known.garage.weights
            given = lk.sources.measured_source(another[:GRID], luminous_flux=100.0, name="given LED")
            row["edge"] = (*lk.uncertainty.interval(drawn["edge wavelength"], weights), truth["edge"])
            for key, source in (("white", white), ("given", given)):
                row[key] = (*lk.measurement.lens_identification.k(known, source, filament), truth[key])
            yield row


def summary(found: Sequence[dict]) -> list[dict[str, object]]:
    """Errors and coverage of each cell."""
    table = []
    for cell in CELLS:
        rows = [r for r in found if r["cell"] == cell]
        used = [r for r in rows if "refused" not in r]
        if not used:
            continue
        line: dict[str, object] = dict(zip(("meter", "lens", "pattern"), cell, strict=True))
        line |= {"garages": len(used), "refused": len(rows) - len(used)}
        low, middle, high, truth = np.array([r["edge"] for r in used]).T
        line["rms_edge_nm"] = round(float(np.sqrt(np.mean((middle - truth) ** 2))), 2)
        line["mean_edge_error_nm"] = round(float(np.mean(middle - truth)), 2)
        line["cover_edge"] = round(float(np.mean((low <= truth) & (truth <= high))), 3)
        for key, name in (("white", "K_white_6000_K"), ("given", "K_spectrum_given")):
            low, middle, high, truth = np.array([r[key] for r in used]).T
            line[f"rms_{name}_percent"] = round(100 * float(np.sqrt(np.mean(np.log(middle / truth) ** 2))), 1)
            line[f"cover_{name}"] = round(float(np.mean((low <= truth) & (truth <= high))), 3)
            line[f"half_width_{name}_percent"] = round(50 * float(np.median(np.log(high / low))), 1)
        table.append(line)
    return table


def main() -> None:
    """Write the table."""
    rows = summary(list(run(int(sys.argv[1]) if len(sys.argv) > 1 else 200)))
    white_leds.write(RESULT, rows)


if __name__ == "__main__":
    main()
