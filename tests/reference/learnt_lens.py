"""K through a lens that was learnt, summed garage by garage; the kit gives it by `conversion.assess`."""

import numpy as np
from numpy.typing import NDArray

from lampkit.lenses.coloured_lens import transmittances
from lampkit.light import colorimetry
from lampkit.measurement.lens_identification import Knowledge
from lampkit.measurement.measurement_model import BLOCK
from lampkit.sources.light_source import LightSource, relative_spectra
from lampkit.uncertainty import sampling


def k(knowledge: Knowledge, new: LightSource, old: LightSource) -> NDArray[np.float64]:
    """Give K, the luminous transmittance for a new source over that for the old, through the lens as now known.

    Source: CIE S 017:2020 for luminous transmittance.
    """
    garage, lens = knowledge.garage, knowledge.lens
    # As in conversion.assess: what the garages do not hold is drawn beside them.
    values = sampling.completed(garage, {s.name: s.beliefs for s in (new, old)}).values
    tau = np.empty((2, len(garage)))
    for start in range(0, len(garage), BLOCK):
        part = slice(start, start + BLOCK)

        def of(owner: str, part: slice = part) -> dict[str, NDArray[np.float64]]:
            return {name: v[part] for (who, name), v in values.items() if who == owner}

        through = transmittances(lens, of(lens.name))
        for i, source in enumerate((new, old)):
            light = relative_spectra(source, of(source.name))
            tau[i, part] = (through * light) @ colorimetry.observer()[:, 1]
    return sampling.interval(tau[0] / tau[1], garage.weights)
