"""Prints a fingerprint of what the kit works out from a seed: the same on every Python, with any number of threads.

OPENBLAS_NUM_THREADS=2 python tests/stress/same_bits.py
"""

import hashlib
import json
import sys
from pathlib import Path

import numpy as np

import lampkit as lk

HERE = Path(__file__).resolve().parent
VEHICLE = HERE.parent / "vehicles" / "puppet_cart"
LOG = """lamp,source,state,illuminance_lx,distance_mm,time
Stop,,off,12.1,800,20:01
Stop,filament,on,141.5,800,20:04
Stop,red LED A,on,98,800,20:09
Stop,,off,11.8,800,20:12
"""


def parts() -> dict[str, bytes]:
    """Work out a vehicle, a log, a lens that was read, and sums over many spectra."""
    made = lk.plan.make(lk.vehicle.load(VEHICLE), draws=500, seed=7)
    found = lk.measurement.compare_readings(lk.measurement.read_log(LOG), draws=2000, seed=7)
    spectra = lk.sources.tungsten(np.linspace(1900.0, 3100.0, 301))
    return {
        "plan of a vehicle": written(lk.page.plan_as_dict(made)),
        "job sheet": lk.page.report_text(made).encode(),
        "readings": written(lk.page.readings_as_dict(found)),
        "chromaticities": lk.light.chromaticity(spectra).tobytes(),
        "lumens": lk.light.luminous_flux(spectra).tobytes(),
    }


def written(held: object) -> bytes:
    """Write numbers to their last bit."""
    return json.dumps(held, sort_keys=True, allow_nan=False).encode()


if __name__ == "__main__":
    everything = hashlib.sha256()
    for name, raw in parts().items():
        everything.update(raw)
        if "--parts" in sys.argv:
            print(f"{hashlib.sha256(raw).hexdigest()[:16]}  {name}")
    print(everything.hexdigest()[:32])
