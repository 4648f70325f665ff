"""One reading of a log, and the background that belongs to it."""

from dataclasses import dataclass


@dataclass(frozen=True)
class DarkReading:
    """The background: what the meter showed with the lamp off."""

    illuminance: float
    resolution: float
    line: int


@dataclass(frozen=True)
class Reading:
    """One line of the log: what the meter showed with the lamp lit, and the background that belongs to it.

    Parameters
    ----------
    lamp, source : str
        Which lamp, and what was fitted in it.
    illuminance : float [lx]
        What the meter showed, background included.
    resolution : float [lx]
        One step of its last digit.
    dark : tuple of DarkReading
        The background before, after, or both.
    position : float [1]
        Where the reading lies between the two backgrounds: zero at the first, one at the second.
    distance : float [m]
        From the lamp's face to the meter.
    tilt : float [deg]
        How far the meter was turned away.
    meter : str
        Which meter; empty when there is only one.
    claimed_lumens : float, optional [lm]
        What the box says.
    note : str
        What was noted.
    line : int [1]
        Line of the log.
    lens_fitted : bool
        False when the lens was taken off.
    supply : float, optional [V]
        The voltage while it was read; None where it was not noted.

    Examples
    --------
    What the lamp alone gives is what the meter shows less its background.

    >>> import lampkit as lk
    >>> path = lk.tables.folder() / "library_van" / "readings.csv"
    >>> reading = lk.measurement.load_log(path).readings[0]
    >>> reading.net == reading.illuminance - reading.background
    True
    """

    lamp: str
    source: str
    illuminance: float
    resolution: float
    dark: tuple[DarkReading, ...]
    position: float
    distance: float
    tilt: float = 0.0
    meter: str = ""
    claimed_lumens: float | None = None
    note: str = ""
    line: int = 0
    lens_fitted: bool = True
    supply: float | None = None

    @property
    def dark_weights(self) -> tuple[float, ...]:
        """Weights of the backgrounds in the one that is taken off: linear drift from one to the next."""
        return (1.0,) if len(self.dark) == 1 else (1.0 - self.position, self.position)

    @property
    def background(self) -> float:
        """The background at the time of the reading."""
        return sum(w * d.illuminance for w, d in zip(self.dark_weights, self.dark, strict=True))

    @property
    def net(self) -> float:
        """The illuminance from the lamp alone."""
        return self.illuminance - self.background
