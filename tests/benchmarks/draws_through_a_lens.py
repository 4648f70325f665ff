"""How much faster draws go through a lens as one product than one by one: ratios against named references.

Run as `python tests/benchmarks/draws_through_a_lens.py`. All are timed in the same run, on the same draws; nothing here
is asserted but that the answers agree.
"""

import time
import warnings
from collections.abc import Callable

import numpy as np

import lampkit as lk

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

DRAWS, BY_LIBRARY = 2000, 50


def timed(work: Callable[[], np.ndarray], repeats: int = 5) -> tuple[np.ndarray, float]:
    """Give the result and the shortest of several times [s]."""
    best = np.inf
    for _ in range(repeats):
        start = time.perf_counter()
        result = work()
        best = min(best, time.perf_counter() - start)
    return result, best


def main() -> None:
    lens = lk.lenses.load("red")
    source = lk.sources.coloured_led("red", luminous_flux=100.0)
    garage = lk.uncertainty.draw({lens.name: lens.beliefs, source.name: source.beliefs}, DRAWS, 1)
    through = lk.lenses.transmittances(lens, garage.of(lens.name))
    spectra = lk.sources.light_source.relative_spectra(source, garage.of(source.name))
    v = lk.light.luminous_efficiency()

    def one_by_one() -> np.ndarray:
        return np.array([(t * s * v).sum() / (s * v).sum() for t, s in zip(through, spectra, strict=True)])

    def by_library() -> np.ndarray:
        lef = colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"]
        flux = [
            [float(colour.luminous_flux(colour.SpectralDistribution(x, lk.grid.WAVELENGTHS), lef)) for x in (t * s, s)]
            for t, s in zip(through[:BY_LIBRARY], spectra[:BY_LIBRARY], strict=True)
        ]
        return np.array([a / b for a, b in flux])

    ours, kit = timed(lambda: lk.light.luminous_transmittance(through, spectra))
    loop, looped = timed(one_by_one)
    library, libraried = timed(by_library, repeats=1)
    np.testing.assert_allclose(ours, loop, rtol=1e-10)
    np.testing.assert_allclose(ours[:BY_LIBRARY], library, rtol=1e-3)
    per_draw = kit / DRAWS
    print(f"luminous transmittance of {DRAWS} draws: {1e6 * per_draw:.1f} us a draw")
    print(f"  against a numpy loop over the draws: {looped / kit:.1f} times as fast")
    print(f"  against colour-science, spectrum by spectrum: {libraried / BY_LIBRARY / per_draw:.0f} times as fast")

    filters, lights = through[:200], spectra[:200]
    table, product = timed(lambda: lk.light.transmittance_table(filters, lights))
    pairs, nested = timed(
        lambda: np.array([[(t * s * v).sum() / (s * v).sum() for s in lights] for t in filters]), repeats=1
    )
    np.testing.assert_allclose(table, pairs, rtol=1e-10)
    print(f"table of 200 lenses by 200 sources as one matrix product: {nested / product:.0f} times a nested loop")


if __name__ == "__main__":
    main()
