"""How fast a lens is learnt, against two plain ways of doing the same; printed, never asserted.

    python tests/benchmarks/know_your_lens.py

The first plain way draws garages from what is believed and weighs them, without looking where the readings are. The
second predicts the readings one garage at a time, in a loop.
"""

import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

import lampkit as lk
from lampkit.measurement import lens_identification, measurement_model
from lampkit.measurement.measurement_model import predicted

LENS = lk.lenses.load("red")
SOURCES = {
    "filament": lk.sources.filament("P21W", voltage=13.5, name="filament"),
    "red": lk.sources.coloured_led("red", luminous_flux=100.0, name="red LED"),
    "amber": lk.sources.coloured_led("amber", luminous_flux=83.0, name="amber LED"),
}
EDGE = 604.0


def log(folder: Path) -> lk.measurement.IlluminanceLog:
    tau = lk.lenses.transmittances(LENS, {"edge wavelength": EDGE})
    lines = ["lamp,source,state,illuminance_lx,distance_m,lens", "stop,,off,0.4,0.5,"]
    for name, source in SOURCES.items():
        for state, share in (("removed", 1.0), ("fitted", lk.light.luminous_transmittance(tau, source.spectrum))):
            lines.append(f"stop,{name},on,{source.luminous_flux * 0.5 * float(share) / 0.25 + 0.4:.1f},0.5,{state}")
        lines.append("stop,,off,0.4,0.5,")
    path = folder / "log.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return lk.measurement.load_log(path)


def timed(work: Callable[[], object], repeats: int = 3) -> float:
    """Shortest processor time of a few runs [s]; other programs on the machine disturb it least."""
    taken = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return min(taken)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        readings = log(Path(folder))
    grouped: dict = {}
    for r in readings.readings:
        grouped.setdefault((r.lamp, r.source, r.lens_fitted), []).append(r)
    meter = lk.measurement.phone()
    beliefs = lens_identification._beliefs(grouped, LENS, SOURCES, meter, measurement_model.PATTERNED)

    def from_prior(draws: int) -> float:
        y, covariance = lens_identification._observed(
            grouped, meter, None, lk.measurement.measurement_model.AFTERNOON, draws, 1
        )
        values = lk.uncertainty.draw(beliefs, draws, 1).values
        away = y - predicted(list(grouped), LENS, SOURCES, meter, values)
        weight = np.exp(-0.5 * (np.linalg.solve(np.linalg.cholesky(covariance), away.T) ** 2).sum(axis=0))
        return float(weight.sum() ** 2 / (weight**2).sum())

    for draws in (4000, 20_000):
        effective, few = (
            lens_identification.learn_lens(readings, LENS, SOURCES, draws=draws).effective,
            from_prior(draws),
        )
        mine = timed(partial(lens_identification.learn_lens, readings, LENS, SOURCES, draws=draws))
        plain = timed(partial(from_prior, draws))
        print(f"{draws} draws, learn: {mine:.2f} s for {effective:.0f} effective draws")
        print(f"{draws} draws, from the beliefs alone: {plain:.2f} s for {few:.1f} effective draws")
        print(f"  effective draws for each second: {effective / mine / (few / plain):.0f} times as many")

    values = lk.uncertainty.draw(beliefs, 1000, 1).values
    groups = list(grouped)

    def one_by_one() -> None:
        for i in range(1000):
            predicted(groups, LENS, SOURCES, meter, {key: v[i : i + 1] for key, v in values.items()})

    together = timed(lambda: predicted(groups, LENS, SOURCES, meter, values))
    loop = timed(one_by_one, 1)
    print(f"1000 garages predicted: {1000 * together:.0f} ms together, {1000 * loop:.0f} ms one by one")
    print(f"  {loop / together:.0f} times as fast")


if __name__ == "__main__":
    main()
