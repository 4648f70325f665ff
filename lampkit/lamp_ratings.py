"""The rating of a filament lamp by its designation, and what is believed about the lamp from it."""

from typing import Any

import numpy as np

from lampkit import filament, tables
from lampkit.errors import InputError, nearest
from lampkit.light_source import TRUE_OVER_CLAIMED, positive
from lampkit.uncertainty import Belief


def rating(designation: str, part: str | None = None, rated_voltage: float | None = None) -> dict[str, Any]:
    """Look up the rating of one filament.

    Parameters
    ----------
    designation : str
        For example 'P21W', 'P21/5W' or '1157'.
    part : str
        'major' or 'minor' for a lamp of two filaments.
    rated_voltage : float [V]
        6, 12 or 24; 12 when left out, or the only one that the lamp is made for.

    Returns
    -------
    dict of str
        The row of data/lamps/ratings.csv.

    Raises
    ------
    InputError
        The lamp, its voltage class or its filament is unknown.

    Source: UN R37 and SAE J573, each row with its own source.
    """
    rows = tables.load("lamps", "ratings").rows()
    wanted = str(designation).strip().upper().replace(" ", "")
    named = [row for row in rows if row["designation"].upper() == wanted]
    if not named:
        known = [row["designation"] for row in rows]
        raise InputError(f"there is no filament lamp '{designation}'", expected=nearest(str(designation), known))
    classes = sorted({row["class_V"] for row in named})
    if rated_voltage is None:
        asked = 12.0 if 12.0 in classes else classes[0]
    else:
        asked = positive(rated_voltage, "rated_voltage", "6, 12 or 24 volts")
    at_voltage = [row for row in named if row["class_V"] == asked]
    if not at_voltage:
        raise InputError(
            f"{designation} has no rating for {asked:g} V",
            key="rated_voltage",
            expected=" or ".join(f"{v:g}" for v in classes),
        )
    parts = [row["filament"] for row in at_voltage]
    if part is None and len(parts) == 1:
        return at_voltage[0]
    if part not in parts:
        problem = f"{designation} has two filaments" if part is None else f"{designation} has no filament '{part}'"
        raise InputError(problem, key="part", expected=" or ".join(f"'{p}'" for p in parts))
    return at_voltage[parts.index(part)]


def filament_beliefs(row: dict[str, Any], ratio: float) -> tuple[Belief, ...]:
    """Give what is believed of a filament lamp: its temperature, how voltage moves it, and its true flux.

    The spread of the temperature follows from the tolerances of flux and watts and from the loss. It is drawn apart
    from the true flux, although a brighter lamp is a little hotter: this overstates the spread of colour slightly.

    Parameters
    ----------
    row : dict of str
        The rating.
    ratio : float [1]
        Voltage at the lamp over the voltage of the rating.

    Returns
    -------
    tuple of Belief
        The beliefs 'filament temperature' at the voltage of the rating, 'colour temperature exponent' and 'true over
        claimed lumens'.

    Source: W. E. Forsythe and A. G. Worthing 1925 for the efficacy; gas loss 20 % (40 W) to 6 % (1000 W) of mains
    lamps in the IES Lighting Handbook 1947 (read in a secondary text), for small lamps an assumption.
    """
    if row["filament"] == "minor":
        # The thin wire of a double filament burns in the gas of the thick one, which costs it more.
        loss, loss_range = 0.20, 0.12
    else:
        loss, loss_range = (0.12, 0.08) if row["power_W"] >= 9.0 else (0.06, 0.06)
    temperature = float(filament.temperature_from_efficacy(row["white_flux_lm"] / row["power_W"], loss))
    flux_sd = row["flux_tolerance_percent"] / 200.0
    efficacy_sd = np.sqrt(flux_sd**2 + (row["power_tolerance_percent"] / 200.0) ** 2 + loss_range**2 / 3.0)
    nearby = filament.tungsten_efficacy([temperature * 0.97, temperature * 1.03])
    steepness = float(np.log(nearby[1] / nearby[0]) / np.log(1.03 / 0.97))
    low, _, high = filament.exponent("flux")
    flux_sd = float(np.hypot(flux_sd, (high - low) / 2.0 * np.log(ratio)))
    return (
        Belief(
            "filament temperature",
            temperature,
            float(temperature * efficacy_sd / steepness),
            "K",
            f"rated lumens over watts and the efficacy of tungsten (Forsythe and Worthing 1925); {100 * loss:.0f} % of "
            f"the power lost to gas and supports, an assumption with +-{100 * loss_range:.0f} %",
            low=1700.0,
            high=3200.0,
        ),
        Belief(
            "colour temperature exponent",
            0.385,
            0.0 if ratio == 1.0 else 0.035,
            "1",
            "0.42 in Fink and Beaty 1978 (read in a secondary text), 0.35 to 0.40 from an own radiation model",
            "fixed" if ratio == 1.0 else "uniform",
        ),
        Belief(
            TRUE_OVER_CLAIMED,
            1.0,
            flux_sd,
            "1",
            f"tolerance of the rating +-{row['flux_tolerance_percent']:g} % taken as two standard deviations "
            f"({row['system']}, {row['known'] if row['tolerance_how'] == 'sheet' else row['tolerance_how']})",
            low=0.4,
        ),
    )
