"""What to read next: which light source would tell most about a lens."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lampkit.errors import InputError
from lampkit.measurement.lens_identification import Knowledge
from lampkit.measurement.measurement_model import PLAIN, predicted
from lampkit.sources.light_source import LightSource
from lampkit.uncertainty import sampling

if TYPE_CHECKING:
    import pandas as pd

PROBE_ERROR = 0.03
"""Standard relative uncertainty of one lux ratio, with lens over without, on which probes are ranked [1].
Source: an assumption: two readings of 1.5 % to 2 % each."""


def next_reading(knowledge: Knowledge, probes: Sequence[LightSource], *, error: float = PROBE_ERROR) -> "pd.DataFrame":
    """Rank light sources by how much one more pair of readings, lens fitted and removed, would tell of a lens's colour.

    What dims all light alike, the plateau, cancels in K and does not count where there is anything else to learn.

    Parameters
    ----------
    knowledge : Knowledge
        What is known so far; of `believed_lens`, what is believed.
    probes : sequence of LightSource
        Light sources at hand.
    error : float [1]
        Standard relative uncertainty of the lux ratio.

    Returns
    -------
    DataFrame
        The probes, the most telling first: expected information in bits, and the share of the spread of the lens's
        edge (or dye) that it would leave.

    Raises
    ------
    InputError
        No probe is given, the error is not positive, or nothing about the lens is uncertain.

    Examples
    --------
    An LED near the edge of a lens tells more of it than the filament lamp.

    >>> import lampkit as lk
    >>> lens = lk.lenses.load("red")
    >>> known = lk.measurement.believed_lens(lens, draws=300)
    >>> amber = lk.sources.coloured_led("amber", luminous_flux=80, name="amber LED")
    >>> lk.measurement.next_reading(known, [lk.sources.filament("P21W"), amber])["probe"][0]
    'amber LED'

    Source: Lindley 1956, doi 10.1214/aoms/1177728069, expected information; for nearly normal draws half the logarithm
    of the variance of what would be read over that at a known lens.
    """
    import pandas as pd

    shown = pd.DataFrame(ranked(knowledge, probes, error=error))
    return shown.sort_values("information [bit]", ascending=False, ignore_index=True)


def ranked(
    knowledge: Knowledge, probes: Sequence[LightSource], *, error: float = PROBE_ERROR
) -> list[dict[str, str | float]]:
    """Tell of each light source what `next_reading` does, in the order given.

    Source: as for `next_reading`.
    """
    if not probes:
        raise InputError("there is no light source to probe with", key="probes")
    if not error > 0:
        raise InputError(
            f"an error of {error:g} is not possible", key="error", expected="a share above 0, such as 0.03"
        )
    lens, garage = knowledge.lens, knowledge.garage
    weights = garage.weights
    features = _features(garage.of(lens.name), weights)
    main = features[:, 0]  # the edge, or the strength of the dye
    named = {probe.name: probe for probe in probes}
    missing = {name: [b for b in probe.beliefs if (name, b.name) not in garage.values] for name, probe in named.items()}
    fresh = sampling.draw(missing, len(garage), garage.seed).values
    # The next reading is taken in the lamp that was read: its pattern, as far as it is not known, hides the lens.
    lamp = next((owner for owner, name in garage.values if name == PLAIN.name), "lamp that was not read")
    groups = [(lamp.removeprefix("lamp "), name, fitted) for name in named for fitted in (True, False)]
    shown = predicted(groups, lens, named, knowledge.meter, {**garage.values, **fresh})
    rows: list[dict[str, str | float]] = []
    for probe, reading in zip(probes, (shown[:, 0::2] - shown[:, 1::2]).T, strict=True):
        reading = reading - np.average(reading, weights=weights)
        total = float(weights @ reading**2) + error**2
        root = np.sqrt(weights)[:, np.newaxis]
        fit, *_ = np.linalg.lstsq(features * root, reading * root[:, 0], rcond=None)
        rest = float(weights @ (reading - features @ fit) ** 2) + error**2
        explained = float(weights @ (reading * main)) ** 2 / (total * float(weights @ main**2))
        rows.append(
            {
                "probe": probe.name,
                "information [bit]": round(0.5 * np.log2(total / rest), 2),
                f"spread left of {lens.beliefs[0].name} [%]": round(100 * np.sqrt(max(1.0 - explained, 0.0))),
            }
        )
    return rows


def _features(values: Mapping[str, NDArray[np.float64]], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """The lens's quantities and their products, centred: what a reading could tell of them to second order."""
    uncertain = {name: v for name, v in values.items() if np.ptp(v) > 0}
    coloured = {name: v for name, v in uncertain.items() if name != "plateau"} or uncertain
    if not coloured:
        raise InputError("nothing about this lens is uncertain", expected="a lens with a spread in its beliefs")
    raw = np.stack(list(coloured.values()), axis=1)
    raw = raw - np.average(raw, axis=0, weights=weights)
    raw = raw / np.sqrt(np.average(raw**2, axis=0, weights=weights))
    i, j = np.triu_indices(raw.shape[1])
    squares = raw[:, i] * raw[:, j]
    return np.hstack([raw, squares - np.average(squares, axis=0, weights=weights)])
