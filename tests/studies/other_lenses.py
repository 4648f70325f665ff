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

After the second run (200 of each cell: edge 2.2 nm behind plain red, 4.5 nm with prisms, 1 nm to 2.5 nm too long) one
difference between these garages and the kit was switched off at a time (`other_lenses_causes.csv`; in the trials 40 to
60 garages of seeds 91 and 17). The cause behind red is the amber LED: here 587 nm to 600 nm when warm, in the kit 597.8
nm, of which 95 % began at 591 nm. What lies shorter lets less light through, which the kit took for a longer edge;
prisms, which take away the ratio of the red LED as a yardstick, double it. With the kit's own amber LED the edge comes
out 1 nm too short. Behind amber it is the width: these edges take 12 nm to 30 nm, the published signal lenses 33 nm
(red) and 58 nm (yellow), by which the kit goes. A meter without fault changes nothing. In the kit amber dies went
from 595 nm +-3 nm to 594.5 nm +-3.3 nm, 95 % of which reach from the 588 nm at which the trade begins; the width was
left, as it rests on published curves. In the design only the seed is another. The white LED changed as told in
`white_leds`.

What the readings can tell. `rms_edge_of_one_who_knew_nm` is the error that is left to one who knows how these garages
are made and fits the edge to the three lux ratios of 2000 others, without the kit. Where it is above 2.5 nm, as with
prisms and with a phone, the readings do not hold it: squares alone and the bare readings beside do no better.

What it shows stands in the table: with a lux meter behind plain red the goal is met. With prisms it comes within an
eighth of what can be known. Behind amber the kit is as good as it believes itself to be, not as good as one who knows
that these edges are steeper than those published. The intervals hold the truth in 90 % and more everywhere.
"""

import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from itertools import combinations_with_replacement
from pathlib import Path

import numpy as np
from numpy.random import Generator

import lampkit as lk
from tests.reference import learnt_lens
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
CAUSES = Path(__file__).with_name("other_lenses_causes.csv")
HEAD = "lamp,source,state,illuminance_lx,distance_m,lens,meter_kind,meter_class,infrared,supply_V"
BOX = 150.0
SEED = 20261129
"""Another than that of all runs before the last change."""


@cache
def told() -> dict[str, lk.sources.LightSource]:
    """What the kit is told of the LEDs."""
    return {
        name: lk.sources.coloured_led(name.removesuffix(" LED"), luminous_flux=BOX, name=name)
        for name in ("red LED", "amber LED", "green LED")
    }


def as_believed(rng: Generator, kind: str) -> Array:
    """An LED as the kit draws it."""
    values = {b.name: b.value(rng.standard_normal()) for b in told()[kind].beliefs}
    return other_garages.beyond(lk.sources.light_source.relative_spectra(told()[kind], values).ravel())


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


def garage(
    rng: Generator, cell: tuple[str, str, str], rated: float, *, own: Sequence[str] = (), unread: bool = True
) -> tuple[str, dict[str, float], Array]:
    """Make one afternoon: what was written down, the truth, and the white LED that was not read.

    What is named in `own` is drawn as the kit believes it, an LED or 'width' of the edge; a 'meter' is then perfect.
    """
    meter, colour, pattern = cell
    aside = rng.spawn(1)[0]
    width = next(b for b in lk.lenses.load(colour).beliefs if b.name == "edge width").value(aside.standard_normal())
    # From a tenth to nine tenths the edge of the kit takes 3.084 widths.
    glass = other_garages.lens(rng, colour, 3.084 * float(width) if "width" in own else None)
    response, leak = other_garages.phone(rng) if meter == "phone" else other_garages.lux_meter(rng)
    if "meter" in own:
        response, leak = V, 0.0
    standard = other_garages.tungsten(2856.0)
    temperature, cooling = rng.uniform(2720.0, 2880.0), rng.uniform(0.36, 0.40)
    hot = other_garages.tungsten(temperature)
    another = other_garages.emitter(rng, "cool white LED") if unread else standard
    bent = float(np.exp(rng.uniform(np.log(0.4), np.log(2.5)))) if pattern == "patterned" else 1.0
    optics = float(np.exp(rng.uniform(np.log(0.2), 0.0)))
    nominal, offset, face = float(rng.choice([0.3, 0.5])), rng.normal(0.0, 0.004), rng.uniform(0.06, 0.11)
    gain = float(np.exp(rng.normal(0.0, 0.15 if meter == "phone" else 0.05)))
    bend = rng.uniform(-0.015, 0.015) if meter == "phone" else rng.uniform(-0.005, 0.005)
    noted, tried, level = rng.random() < 0.5, rng.random() < 0.5, float(np.exp(rng.normal(0.0, 0.5)))
    stated = other_garages.METERS[meter]
    infrared = ("some" if leak > 3e-4 else "none") if tried else "not tried"
    rest, running = rng.uniform(12.2, 12.7), 13.5
    lines = [HEAD]

    def shown(true: float) -> str:
        return f"{max(gain * true * (1.0 + bend * np.log10(max(true, 0.01) / 100.0)), 0.0):.1f}"

    def dark() -> str:
        nonlocal level
        level *= float(np.exp(0.03 * rng.standard_normal()))
        return f"stop,,off,{shown(level)},{nominal},,{stated},{infrared},"

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
        if name in own:
            light = as_believed(aside, name)
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
                lines.append(f"stop,{name},on,{shown(true + level)},{nominal},{word},{stated},{infrared},{told}")
                lines.append(dark())
    truth = {"edge": middle_of(glass), "white": share(glass, another) / share(glass, hot)}
    # Against the same hot wire, whose spectrum is part of the garage and not told.
    truth["given"] = truth["white"]
    return "\n".join(lines), truth, another


def run(
    garages: int | Sequence[int],
    *,
    seed: int = SEED,
    draws: int = 1000,
    cells: Sequence = CELLS,
    own: Sequence[str] = (),
) -> Iterator[dict]:
    """Let the kit learn so many lenses of each cell, and hold what it knows against the truth."""
    filament = lk.sources.filament("P21W", name="filament")
    sources = {"filament": filament, **told()}
    white = lk.sources.white_led(6000.0, luminous_flux=100.0, name="white LED")
    model = lk.measurement.measurement_model
    patterns = {"plain": model.PLAIN, "patterned": model.PATTERNED}
    for cell in cells:
        lens = lk.lenses.load(cell[1])
        for number in range(garages) if isinstance(garages, int) else garages:
            rng = np.random.default_rng([seed, number, CELLS.index(cell)])
            text, truth, another = garage(rng, cell, filament.luminous_flux, own=own)
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
                row[key] = (*learnt_lens.k(known, source, filament), truth[key])
            yield row


def best_possible(cell: tuple[str, str, str], garages: int = 2000, seed: int = 20261127) -> float:
    """The error of the edge that is left to one who knows how these garages are made, from the same readings [nm].

    The edge is fitted to the three lux ratios, lens over without, by all powers up to the third, in one half of
    another lot of garages, and told for the other half: nothing of the kit is in it.
    """
    rated = lk.sources.filament("P21W").luminous_flux
    ratios, edges = [], []
    for number in range(garages):
        rng = np.random.default_rng([seed, number, CELLS.index(cell)])
        text, truth, _ = garage(rng, cell, rated, unread=False)
        found = shown(text, READ[cell[1]])
        if found.min() > 0.0:
            ratios.append(np.log(found))
            edges.append(truth["edge"])
    x, y = np.array(ratios), np.array(edges)
    x = (x - x.mean(axis=0)) / x.std(axis=0)
    powers = [t for degree in range(4) for t in combinations_with_replacement(range(x.shape[1]), degree)]
    columns = np.stack([np.prod(x[:, list(t)], axis=1) for t in powers], axis=1)
    half, errors = len(y) // 2, []
    for fit, hold in ((slice(0, half), slice(half, None)), (slice(half, None), slice(0, half))):
        weights = np.linalg.lstsq(columns[fit], y[fit], rcond=None)[0]
        errors.append(columns[hold] @ weights - y[hold])
    return float(np.sqrt(np.mean(np.concatenate(errors) ** 2)))


def shown(text: str, names: Sequence[str]) -> Array:
    """The lux ratio of each source, with the lens over without, less the background before and after each reading."""
    lines = [line.split(",") for line in text.splitlines()[1:]]
    net: dict[tuple[str, str], list[float]] = {}
    for before, here, after in zip(lines[:-2], lines[1:-1], lines[2:], strict=True):
        if here[2] == "on":
            net.setdefault((here[1], here[5]), []).append(float(here[3]) - 0.5 * (float(before[3]) + float(after[3])))
    return np.array([np.mean(net[name, "fitted"]) / np.mean(net[name, "removed"]) for name in names])


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
        line["half_width_edge_nm"] = round(float(np.median(0.5 * (high - low))), 2)
        line["cover_edge"] = round(float(np.mean((low <= truth) & (truth <= high))), 3)
        for key, name in (("white", "K_white_6000_K"), ("given", "K_spectrum_given")):
            low, middle, high, truth = np.array([r[key] for r in used]).T
            line[f"rms_{name}_percent"] = round(100 * float(np.sqrt(np.mean(np.log(middle / truth) ** 2))), 1)
            line[f"cover_{name}"] = round(float(np.mean((low <= truth) & (truth <= high))), 3)
            line[f"half_width_{name}_percent"] = round(50 * float(np.median(np.log(high / low))), 1)
        table.append(line)
    return table


SWITCHES: tuple[tuple[str, ...], ...] = ((), ("amber LED",), ("red LED",), ("width",), ("meter",))
"""What is drawn as the kit believes it, to see what the error of the edge comes from."""


def part(job: tuple[Sequence[int], tuple, tuple[str, ...], int]) -> list[dict]:
    numbers, cells, own, seed = job
    return list(run(numbers, cells=cells, own=own, seed=seed))


def causes(pool: ProcessPoolExecutor, garages: int, seed: int = 20261128) -> list[dict[str, object]]:
    """The error of the edge with one difference between these garages and the kit's beliefs switched off at a time."""
    table = []
    for own in SWITCHES:
        parts = pool.map(
            part, [(range(n, min(n + 10, garages)), (CELLS[1], CELLS[3]), own, seed) for n in range(0, garages, 10)]
        )
        for line in summary([row for found in parts for row in found]):
            first = {"as_believed": " + ".join(own) or "nothing", **line}
            table.append({key: v for key, v in first.items() if "edge" in key or key in FEW or key == "as_believed"})
    return table


FEW = ("meter", "lens", "pattern", "garages")


def main() -> None:
    """Write both tables."""
    garages = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with ProcessPoolExecutor(3) as pool:
        jobs = [(range(n, min(n + 10, garages)), CELLS, (), SEED) for n in range(0, garages, 10)]
        rows = summary([row for found in pool.map(part, jobs) for row in found])
        least = pool.map(best_possible, CELLS)
        for row, error in zip(rows, least, strict=True):
            row["rms_edge_of_one_who_knew_nm"] = round(error, 2)
        white_leds.write(RESULT, rows)
        white_leds.write(CAUSES, causes(pool, 40))


if __name__ == "__main__":
    main()
