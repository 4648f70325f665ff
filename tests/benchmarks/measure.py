"""How fast the kit is: ratios against named references, measured in one run; printed, never asserted.

    python tests/benchmarks/measure.py            the table
    python tests/benchmarks/measure.py growth.svg  how time grows with draws, lamps, candidates and lines, as a chart

Every answer that is timed is compared with that of its reference first. Times are processor times, the shortest of a
few runs: other programs on the machine disturb them least. The dated texts beside this script are its output.
"""

import compileall
import os
import platform
import re
import resource
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

import lampkit as lk
from lampkit import tables
from lampkit.measurement import lens_identification, measurement_model
from lampkit.measurement.measurement_model import predicted
from lampkit.plan import choice

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

DRAWS, BY_LIBRARY = 2000, 50
RED = lk.lenses.load("red")
SOURCES = {
    "filament": lk.sources.filament("P21W", voltage=13.5, name="filament"),
    "red": lk.sources.coloured_led("red", luminous_flux=100.0, name="red LED"),
    "amber": lk.sources.coloured_led("amber", luminous_flux=83.0, name="amber LED"),
}
TWO_LAMPS = """lamp,source,illuminance_lx,dark_lx,distance_m
Stop,filament,88.4,2.6,0.80
Stop,red LED,61.2,2.6,0.80
"""
Row = tuple[str, str, float, str, float]


def timed(work: Callable[[], object], repeats: int = 5) -> float:
    """Shortest processor time of a few runs [s]."""
    taken = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return min(taken)


def fresh(statement: str) -> float:
    """Time of a statement in a fresh interpreter, its start taken off [s]."""

    def taken(code: str) -> float:
        times = []
        for _ in range(5):
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", code], check=True)
            times.append(time.perf_counter() - start)
        return min(times)

    return taken(statement) - taken("pass")


def spectra() -> list[Row]:
    """Draws through a lens and tables of lenses by sources, against loops and against colour-science."""
    source = SOURCES["red"]
    garage = lk.uncertainty.draw({RED.name: RED.beliefs, source.name: source.beliefs}, DRAWS, 1)
    through = lk.lenses.transmittances(RED, garage.of(RED.name))
    lights = lk.sources.light_source.relative_spectra(source, garage.of(source.name))
    v = lk.light.luminous_efficiency()

    def together() -> np.ndarray:
        return lk.light.luminous_transmittance(through, lights)

    def one_by_one() -> np.ndarray:
        return np.array([(t * s * v).sum() / (s * v).sum() for t, s in zip(through, lights, strict=True)])

    def by_library() -> np.ndarray:
        lef = colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"]
        flux = [
            [float(colour.luminous_flux(colour.SpectralDistribution(x, lk.grid.WAVELENGTHS), lef)) for x in (t * s, s)]
            for t, s in zip(through[:BY_LIBRARY], lights[:BY_LIBRARY], strict=True)
        ]
        return np.array([a / b for a, b in flux])

    def product() -> np.ndarray:
        return lk.light.transmittance_table(through[:200], lights[:200])

    def nested() -> np.ndarray:
        return np.array([[(t * s * v).sum() / (s * v).sum() for s in lights[:200]] for t in through[:200]])

    np.testing.assert_allclose(together(), one_by_one(), rtol=1e-10)
    np.testing.assert_allclose(together()[:BY_LIBRARY], by_library(), rtol=1e-3)
    np.testing.assert_allclose(product(), nested(), rtol=1e-10)
    kit, work = timed(together), f"luminous transmittance of {DRAWS} draws"
    white = lk.sources.white_led(4000.0, luminous_flux=400.0)
    values = lk.uncertainty.draw({white.name: white.beliefs}, 1000, 1).of(white.name)
    relative = lk.sources.light_source.relative_spectra

    def singly() -> np.ndarray:
        return np.concatenate([relative(white, {k: x[i : i + 1] for k, x in values.items()}) for i in range(1000)])

    np.testing.assert_allclose(relative(white, values), singly(), rtol=1e-6, atol=1e-9)
    whites = timed(lambda: relative(white, values), 3)
    return [
        *pairs(),
        (work, "numpy loop over the draws", kit, "s", timed(one_by_one)),
        (work, "colour-science, one by one", kit, "s", timed(by_library, 1) * DRAWS / BY_LIBRARY),
        ("200 lenses by 200 sources", "numpy loop over the pairs", timed(product), "s", timed(nested, 1)),
        ("1000 draws of a white LED", "the same, draw by draw", whites, "s", timed(singly, 1)),
    ]


def pairs() -> list[Row]:
    """Every source behind every lens, against the bare product and against a library's arrays and objects."""
    rng = np.random.default_rng(1)
    lights, lenses = rng.uniform(0.0, 1.0, (200, 471)), rng.uniform(0.0, 1.0, (500, 471))
    bars = np.ascontiguousarray(lk.light.colour_matching_functions())

    def bare() -> np.ndarray:
        return np.einsum("sw,lw,wk->slk", lights, lenses, bars, optimize=True)

    shape = colour.SpectralShape(360, 830, 1)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    even = colour.SpectralDistribution(np.ones(471), lk.grid.WAVELENGTHS)

    def by_arrays() -> np.ndarray:
        behind = lights[:20, np.newaxis] * lenses
        return colour.msds_to_XYZ(behind, cmfs, even, method="Integration", shape=shape, k=1.0)

    def by_objects() -> list[np.ndarray]:
        found = []
        for light, lens in zip(lights[:BY_LIBRARY], lenses[:BY_LIBRARY], strict=True):
            one = colour.SpectralDistribution(light * lens, lk.grid.WAVELENGTHS)
            found.append(colour.sd_to_XYZ(one, cmfs, even, k=1.0, method="Integration"))
        return found

    through = lk.light.through_lenses
    np.testing.assert_allclose(through(lights, lenses), bare(), rtol=1e-10)
    np.testing.assert_allclose(through(lights[:20], lenses), 100.0 * by_arrays(), rtol=1e-3)  # it gives hundredths
    kit, work = timed(lambda: through(lights, lenses)), "200 sources through 500 lenses"
    return [
        (work, "einsum, optimised", kit, "s", timed(bare)),
        (work, "colour-science, arrays", kit, "s", timed(by_arrays, 2) * 10),
        (work, "colour-science, objects", kit, "s", timed(by_objects, 1) * 100_000 / BY_LIBRARY),
    ]


def lamp(draws: int, candidates: int = 2) -> lk.conversion.Assessment:
    """Assess one lamp; the candidates are white and red in turn."""
    makers = (partial(lk.sources.white_led, 4000.0), partial(lk.sources.coloured_led, "red"))
    offers = [makers[i % 2](luminous_flux=100.0 + i, name=f"offer {i}") for i in range(candidates)]
    return lk.conversion.assess(SOURCES["filament"], offers, RED, function="stop", draws=draws)


def exponentials_needed() -> float:
    """How many bare exponentials of a draw on the whole grid the laws behind `lamp` ask for in plain sums.

    One for a filament (Planck's law) and for a red LED, three for a white one (pump and two phosphors), and the two of
    the edge of the lens for each set of wavelengths, each at those at which the source gives light. How the kit adds
    up is not asked: it may do with fewer.
    """
    white = lk.sources.white_led(4000.0, luminous_flux=1.0)
    found: dict[int, int] = {}
    for source, count in ((SOURCES["filament"], 1), (white, 3), (SOURCES["red"], 1)):
        light = lk.sources.light_source.warm_spectrum(source)
        size = np.count_nonzero(light[: 441 : plain_step(light, light * RED.transmittance)])
        found[size] = found.get(size, 2) + count
    return sum(size * count for size, count in found.items()) / lk.grid.WAVELENGTHS.size


def plain_step(before: np.ndarray, behind: np.ndarray) -> int:
    """The widest step in which a plain sum is good to 1 in 10 000, whichever wavelength it begins with."""
    bars = lk.light.colour_matching_functions().T
    curves = np.array([before * bars[1], *(behind * bars)])
    whole = curves.sum(axis=-1)
    bound = 1e-4 * np.array([whole[0], whole[1:].sum(), whole[2], whole[1:].sum()])
    for step in (4, 3, 2):
        if all(np.all(np.abs(step * curves[:, i:441:step].sum(axis=-1) - whole) <= bound) for i in range(step)):
            return step
    return 1


def draws() -> list[Row]:
    """One lamp and three sources, against bare exponentials of as many draws: on the whole grid, and those it needs."""
    sample = np.random.default_rng(1).uniform(-1.0, 0.0, (4000, 471))
    exponential = timed(lambda: np.exp(sample))
    lamp(100)
    usual, most, needed = timed(lambda: lamp(4000)), timed(lambda: lamp(10**6), 2), exponentials_needed()
    return [
        ("one lamp, 3 sources, 4000 draws", "an exponential of 4000 x 471", usual, "s", exponential),
        ("one lamp, 3 sources, 1e6 draws", "250 such exponentials", most, "s", 250 * exponential),
        ("  the same", f"the exponentials needed, {needed:.2f}", most, "s", 250 * needed * exponential),
    ]


def study() -> list[Row]:
    """The coverage study of 2000 garages, from a fiftieth of it, against the import of pandas."""
    from tests.studies import other_garages

    taken = timed(lambda: sum(1 for _ in other_garages.run(4)), 1) * 50
    return [("study of 2000 other garages", "import pandas", taken, "s", fresh("import pandas"))]


def commands(folder: Path) -> list[Row]:
    """Whole commands on the library van, against the import of what any such command loads."""
    van = str(tables.folder() / "library_van")
    # As an installed kit is, and as the libraries of the reference are.
    compileall.compile_dir(Path(lk.__file__).parent, quiet=1)

    def spent(*words: str) -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], check=True, capture_output=True, cwd=folder)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    statement = "import pandas, matplotlib.figure, scipy.optimize, jinja2"
    bare = min(spent("-c", statement) for _ in range(4))
    asked = {
        "lampkit report, pages and all": ("report", van, "-o", "van.html"),
        "lampkit report --json": ("report", van, "--json"),
        "lampkit lamp": ("lamp", "red", "P21W", "--led", "red 110 lm"),
        "lampkit readings": ("readings", f"{van}/readings.csv"),
    }
    return [
        (name, "four imports", min(spent("-m", "lampkit", *words) for _ in range(3)), "s", bare)
        for name, words in asked.items()
    ]


def written_log(folder: Path, rows: int, *, lamps: bool = False) -> Path:
    """A log of many lines: one lamp read over and over, or each lamp once; invented."""
    lines = ["lamp,source,state,illuminance_lx,distance_m"]
    for i in range(rows // 4):
        name = f"lamp {i}" if lamps else "stop"
        lines += [f"{name},,off,0.4,0.8", f"{name},filament,on,{88 + i % 13 * 0.1:.1f},0.8"]
        lines += [f"{name},red LED,on,{61 + i % 11 * 0.1:.1f},0.8", f"{name},,off,0.41,0.8"]
    path = folder / f"log {rows} {lamps}.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def growth(folder: Path, chart: Path) -> None:
    """Time over three decades of each size, as numbers and as a chart: a line of slope one is linear."""
    jobs: dict[str, tuple[list[int], Callable[[int], object]]] = {
        "draws of one lamp": ([1000, 10_000, 100_000, 1_000_000], lamp),
        "candidates of one lamp, 100 draws": ([6, 60, 600, 6000], lambda n: lamp(100, n)),
        "lines of a log, loaded": (
            [100, 1000, 10_000, 100_000],
            lambda n: lk.measurement.load_log(folder / f"log {n} False.csv"),
        ),
        "lamps of a log, compared, 1000 draws": (
            [4, 40, 400, 4000],
            lambda n: lk.measurement.compare_readings(
                lk.measurement.load_log(folder / f"log {4 * n} True.csv"), draws=1000
            ),
        ),
    }
    for n in (100, 1000, 10_000, 100_000):
        written_log(folder, n)
    for n in (4, 40, 400, 4000):
        written_log(folder, 4 * n, lamps=True)
    measured = {}
    for name, (sizes, work) in jobs.items():
        work(sizes[0])
        taken = [timed(partial(work, n), 5 if n == sizes[0] else 1) for n in sizes]
        measured[name] = (sizes, taken)
        print(f"{name:38}" + "".join(f"{n:>10} {t:8.3g} s" for n, t in zip(sizes, taken, strict=True))
              + f"   slope {_slope(sizes, taken):.2f}", flush=True)  # fmt: skip
    growth_chart(measured, chart)


def _slope(sizes: list[int], taken: list[float]) -> float:
    return float(np.log10(taken[-1] / taken[1]) / np.log10(sizes[-1] / sizes[1]))


def growth_chart(measured: dict[str, tuple[list[int], list[float]]], chart: Path) -> None:
    """Draw what was measured, a panel for each size, beside a line of slope one through its second point."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.4, 6.2), layout="constrained")
    for axes, (name, (sizes, taken)) in zip(figure.subplots(2, 2).flat, measured.items(), strict=True):
        axes.loglog(sizes, [taken[1] * n / sizes[1] for n in sizes], "--", color="#5b6470")
        axes.loglog(sizes, taken, "o-", color="#0072b2")
        axes.set_title(f"{name}\nslope {_slope(sizes, taken):.2f} over the last two decades", fontsize=9, loc="left")
        axes.set_xlabel("how many")
        axes.set_ylabel("processor time [s]")
        axes.grid(True, color="#d5dade")
    figure.suptitle("Dashed: linear, through the second point", fontsize=9, x=0.99, ha="right")
    figure.savefig(chart, metadata={"Date": None})


def readings_of_a_lens(folder: Path) -> lk.measurement.IlluminanceLog:
    """A log of three sources with and without a red lens whose edge is at 604 nm: invented."""
    tau = lk.lenses.transmittances(RED, {"edge wavelength": 604.0})
    lines = ["lamp,source,state,illuminance_lx,distance_m,lens", "stop,,off,0.4,0.5,"]
    for name, source in SOURCES.items():
        for state, share in (("removed", 1.0), ("fitted", lk.light.luminous_transmittance(tau, source.spectrum))):
            lines.append(f"stop,{name},on,{source.luminous_flux * 0.5 * float(share) / 0.25 + 0.4:.1f},0.5,{state}")
        lines.append("stop,,off,0.4,0.5,")
    path = folder / "lens.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return lk.measurement.load_log(path)


def lens(folder: Path) -> list[Row]:
    """Learning a lens, against garages drawn from the beliefs alone and against a loop over garages."""
    readings = readings_of_a_lens(folder)
    grouped: dict = {}
    for r in readings.readings:
        grouped.setdefault((r.lamp, r.source, r.lens_fitted), []).append(r)
    meter = lk.measurement.phone()
    beliefs = lens_identification._beliefs(grouped, RED, SOURCES, meter, measurement_model.PATTERNED)

    def from_beliefs(draws: int) -> float:
        y, covariance = lens_identification._observed(
            grouped, meter, None, measurement_model.AFTERNOON, draws, 1, {}, readings
        )
        values = lk.uncertainty.draw(beliefs, draws, 1).values
        away = y - predicted(list(grouped), RED, SOURCES, meter, values)
        weight = np.exp(-0.5 * (np.linalg.solve(np.linalg.cholesky(covariance), away.T) ** 2).sum(axis=0))
        return float(weight.sum() ** 2 / (weight**2).sum())

    rows: list[Row] = []
    once = partial(lens_identification.learn_lens, readings, RED, SOURCES)
    rows.append(("a lens learnt, as usual", "import pandas", timed(once, 3), "s", fresh("import pandas")))
    for draws in (4000, 20_000):
        learn = partial(lens_identification.learn_lens, readings, RED, SOURCES, draws=draws)
        mine = timed(learn, 3) / learn().effective
        plain = timed(partial(from_beliefs, draws), 3) / from_beliefs(draws)
        rows.append((f"a lens learnt, {draws} draws", "draws from the beliefs alone", mine, "s/effective", plain))

    values = lk.uncertainty.draw(beliefs, 1000, 1).values
    groups = list(grouped)

    def together() -> np.ndarray:
        return predicted(groups, RED, SOURCES, meter, values)

    def one_by_one() -> np.ndarray:
        singles = ({key: v[i : i + 1] for key, v in values.items()} for i in range(1000))
        return np.concatenate([predicted(groups, RED, SOURCES, meter, one) for one in singles])

    # Where a light is next to nothing depends on who shines beside it.
    np.testing.assert_allclose(together(), one_by_one(), rtol=1e-6, atol=1e-6)
    rows.append(("readings of 1000 garages", "garage by garage", timed(together), "s", timed(one_by_one, 1)))
    return rows


def whole_jobs(folder: Path) -> list[Row]:
    """What a person waits for, against the import of pandas."""
    yardstick, reference = fresh("import pandas"), "import pandas"
    path = folder / "two.csv"
    path.write_text(TWO_LAMPS, encoding="utf-8")
    log = lk.measurement.load_log(path)
    van = lk.vehicle.load(tables.folder() / "library_van")
    made = lk.plan.make(van)
    wire = lk.sources.hot_wire_of_rating(13.5, 25.0, 2800.0)
    jobs: list[tuple[str, Callable[[], object], int]] = [
        ("rise of a filament, one second", lambda: lk.sources.switch_on(wire), 3),
        ("fair ratio of one log, 40000 draws", lambda: lk.measurement.compare_readings(log, draws=40_000), 3),
        ("plan of the library van", lambda: lk.plan.make(van), 1),
        ("  of which the choice", lambda: choice.choose(van, made.assessments), 3),
        ("job sheet of that plan", lambda: lk.page.job_sheet_html(made), 3),
    ]
    rows: list[Row] = [("import lampkit", reference, fresh("import lampkit"), "s", yardstick)]
    return rows + [(name, reference, timed(work, repeats), "s", yardstick) for name, work, repeats in jobs]


def answers() -> list[Row]:
    """What somebody waits for who changed a claim in the vehicle sheet, against the same plan made anew."""
    from lampkit.notebook import vehicle_panel

    sheet = vehicle_panel.VehicleSheet(str(tables.folder() / "library_van"))
    slowest = 0.0
    for offer in [one.name for one in sheet.vehicle.offers]:
        sheet.offer.value = offer

        def change() -> None:
            sheet.lumens.value = str(1.01 * float(sheet.lumens.value))
            sheet._change()

        slowest = max(slowest, timed(change, 3))
    made = lk.plan.make(sheet.vehicle, draws=sheet.draws)
    assert made.table().equals(sheet.planned.table()), "what was taken over is what is made anew"
    anew = timed(lambda: lk.plan.make(sheet.vehicle, draws=sheet.draws), 3)
    sys.path.insert(0, str(Path(__file__).parents[1] / "studies"))
    import other_garages

    garages = 4 * len(other_garages.CELLS) * len(other_garages.METERS)
    few = timed(lambda: list(other_garages.run(4)), 2) / garages
    return [
        ("one claim changed in the vehicle sheet", "its plan made anew", slowest, "s", anew),
        ("coverage study, one of 2000 garages", "import pandas", few, "s", fresh("import pandas")),
    ]


def machine() -> str:
    """Name the processor as the system does."""
    told = Path("/proc/cpuinfo")
    named = re.search(r"model name\s*: (.+)", told.read_text()) if told.exists() else None
    return named[1] if named else platform.processor()


def main() -> None:
    print(f"lampkit {lk.__version__}, {time.strftime('%Y-%m-%d')}")
    python = f"Python {platform.python_version()}, numpy {np.__version__}"
    print(f"{os.cpu_count()} cores ({platform.machine()}, {machine()}), {python}")
    print(f"load of the machine before: {os.getloadavg()[0]:.1f}\n")
    print(f"{'work':39}{'reference':31}{'kit':>10}{'reference':>11}  {'unit':12}{'reference/kit':>14}")
    with tempfile.TemporaryDirectory() as folder:
        if len(sys.argv) > 1:
            growth(Path(folder), Path(sys.argv[1]))
            return
        parts = (partial(commands, Path(folder)), draws, spectra, study, partial(lens, Path(folder)), answers)
        for part in (*parts, partial(whole_jobs, Path(folder))):
            for work, reference, kit, unit, other in part():
                ratio = f"{other / kit:.2g}" if other < 100 * kit else f"{other / kit:.0f}"
                print(f"{work:39}{reference:31}{kit:10.2g}{other:11.2g}  {unit:12}{ratio:>14}", flush=True)


if __name__ == "__main__":
    if "OPENBLAS_NUM_THREADS" not in os.environ:
        # As the command line and the notebooks run: with one thread of the linear algebra.
        os.execve(sys.executable, [sys.executable, *sys.argv], {**os.environ, **lk.notebook.lab.surroundings()})
    main()
