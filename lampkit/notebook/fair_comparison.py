"""The lesson of the fair comparison: the rule of the background with sliders, and a ratio told in three ways."""

from dataclasses import replace
from typing import TYPE_CHECKING

import ipywidgets as widgets
import numpy as np
from numpy.typing import NDArray

from lampkit import show
from lampkit.lesson import pictures, quantities
from lampkit.measurement import fair_ratio, illuminance_log
from lampkit.measurement.fair_ratio import Comparison
from lampkit.notebook import controls
from lampkit.plan import agreement
from lampkit.statements import say
from lampkit.vehicle.vehicle import Vehicle

if TYPE_CHECKING:
    from IPython.display import HTML


def background_rule() -> widgets.VBox:
    """Show what a background makes of two readings, with sliders for the background and for the true ratio.

    Returns
    -------
    VBox
        The panel: two sliders and the picture.

    Examples
    --------
    >>> import lampkit as lk
    >>> background, true, picture = lk.notebook.background_rule().children[:3]
    >>> background.value, true.value = 1.0, 0.5
    >>> "divided as read 0.75" in picture.value
    True
    """
    background = controls.slider(say("lesson.background_slider"), "1", 1.0, 0.0, 3.0, 0.05, 2)
    true = controls.slider(say("lesson.true_slider"), "1", 0.25, 0.1, 2.0, 0.05, 2)
    place = widgets.HTML(layout={"width": "auto", "max_width": "560px", "margin": "2px"})

    def drawn(*_: object) -> None:
        place.value = pictures.law(background.value, true.value)

    for slider in (background, true):
        slider.observe(drawn, "value")
    drawn()
    return controls.panel("background-rule", background, true, place)


def show_three_ways(comparison: Comparison) -> "HTML":
    """Show each ratio as read, with the background off, and corrected for colour, and say what the correction is.

    Parameters
    ----------
    comparison : Comparison
        What `compare_readings` gave.

    Returns
    -------
    HTML
        The table, and where the correction comes from.

    Examples
    --------
    The invented readings of the library van.

    >>> import lampkit as lk
    >>> path = lk.tables.folder() / "library_van" / "readings.csv"
    >>> shown = lk.notebook.show_three_ways(lk.measurement.compare_readings(str(path), draws=500))
    >>> shown.data.count("<tr>")
    9
    """
    import pandas as pd
    from IPython.display import HTML

    table = pd.DataFrame(
        {
            str(say("lesson.lamp")): ratio.lamp,
            str(say("lesson.new_lamp")): ratio.new,
            str(say("lesson.as_read")): ratio.naive,
            str(say("lesson.background_off")): ratio.uncorrected[1],
            str(say("lesson.colour_factor")): float(np.median(ratio.mismatch)),
            str(say("lesson.corrected")): ratio.ratio[1],
            str(say("lesson.at_least")): ratio.ratio[0],
            str(say("lesson.at_most")): ratio.ratio[2],
        }
        for ratio in comparison.ratios
    )
    if all(ratio.colour_response is None for ratio in comparison.ratios):
        said = say("lesson.one_factor", limits=quantities.colour_doubt())
    else:
        said = say("lesson.many_factors")
    return HTML(show.written(table, [str(said)]))


def compare_without_lens(vehicle: Vehicle, *, draws: int = 4000, seed: int = 1) -> Comparison:
    """Compare the readings in the folder of a vehicle that were taken with the lens removed.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle, with its readings.csv beside its file.
    draws : int [1]
        How many possible garages.
    seed : int [1]
        The seed.

    Returns
    -------
    Comparison
        The ratios of the bare light sources.

    Raises
    ------
    InputError
        The log cannot be used, or no lamp was read without its lens with two light sources.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> bare = lk.notebook.compare_without_lens(van, draws=300)
    >>> [ratio.new for ratio in bare.ratios]
    ['red LED A', 'amber LED A']

    Source: as for lampkit.measurement.compare_readings.
    """
    log = illuminance_log.load_log(vehicle.file.parent / agreement.FILE)
    offered = {offer.name: offer.source for offer in vehicle.offers}
    bare = replace(log, readings=tuple(r for r in log.readings if not r.lens_fitted))
    light: dict[tuple[str, str], NDArray[np.float64]] = {}
    for lamp in vehicle.lamps:
        mine = tuple(r for r in bare.readings if r.lamp == lamp.name)
        fitted = {r.source: offered.get(r.source, lamp.filament) for r in mine}
        one = replace(bare, readings=mine)
        light |= fair_ratio.light_at_meter(one, fitted, {lamp.name: lamp.lens}, draws=draws, seed=seed)
    return fair_ratio.compare_readings(bare, light=light, draws=draws, seed=seed)
