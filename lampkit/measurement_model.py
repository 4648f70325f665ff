"""The measurement as a function of everything that may be off: draws and first-order budget share it."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import lamp_face, meters, uncertainty
from lampkit.illuminance_log import Reading
from lampkit.meters import Meter
from lampkit.uncertainty import Belief

AFTERNOON = (
    Belief("distance offset", 0.0, 0.005, "m", "an assumption: where face and sensor really are"),
    Belief("position", 0.0, 0.004, "m", "an assumption: putting the meter back, and the light's centre moving"),
    Belief("aim", 1.0, 0.02, "1", "an assumption: the meter off the beam's axis", "lognormal"),
    Belief("tilt error", 0.0, 4.0, "deg", "an assumption"),
    Belief("beam exponent", 4.0, 0.6, "1", "an assumption: signal lamps halve at 20 to 40 deg", "lognormal"),
    Belief("face diameter", 0.09, 0.25, "m", "an assumption: signal lamps of cars and vans", "lognormal"),
    Belief("repeatability", 0.01, 0.0, "1", "an assumption, with the weight of four readings", "fixed"),
    Belief("background step", 0.05, 0.0, "1", "an assumption, with the weight of three backgrounds", "fixed"),
)
"""What is believed of the afternoon in the garage."""


_PRIOR_REPEATS, _PRIOR_STEPS = 4.0, 3.0
_REFERENCE = 100.0


class MeasurementModel:
    """The measurement as a function of everything that may be off: the draws and the first-order budget share it."""

    def __init__(
        self,
        groups: Mapping[tuple[str, str], list[Reading]],
        believed: Mapping[str, Belief],
        sensor: Meter,
        face_diameter: float | None,
    ) -> None:
        self.groups, self.believed, self.sensor = groups, believed, sensor
        self.face = believed["face diameter"]
        self.face_given = face_diameter is not None
        if face_diameter is not None:
            self.face = Belief("face diameter", face_diameter, 0.0, "m", "given", "fixed")
        readings = [r for group in groups.values() for r in group]
        self.noise, self.noise_freedom = self._repeatability()
        self.step, self.step_freedom = self._background_step(readings)
        typical = believed["beam exponent"].typical
        self.near = {r.line: not lamp_face.far_enough(r.distance, self.face.typical, typical) for r in readings}

    def _repeatability(self) -> tuple[float, float]:
        prior = self.believed["repeatability"].typical
        squares, freedom = _PRIOR_REPEATS * prior**2, _PRIOR_REPEATS
        for group in self.groups.values():
            for distance in {r.distance for r in group}:
                net = np.array([r.net for r in group if r.distance == distance])
                if net.size > 1:
                    rounding = np.mean([r.resolution**2 / 12.0 for r in group]) / net.mean() ** 2
                    squares += max(float(net.var(ddof=1) / net.mean() ** 2 - rounding), 0.0) * (net.size - 1)
                    freedom += net.size - 1
        return float(np.sqrt(squares / freedom)), freedom

    def _background_step(self, readings: list[Reading]) -> tuple[float, float]:
        squares, freedom = _PRIOR_STEPS * self.believed["background step"].typical ** 2, _PRIOR_STEPS
        pairs = {tuple(d.line for d in r.dark): r.dark for r in readings if len(r.dark) == 2}
        for first, last in pairs.values():
            level = 0.5 * (first.illuminance + last.illuminance)
            if level > 0:
                rounding = (first.resolution**2 + last.resolution**2) / 12.0
                squares += max((last.illuminance - first.illuminance) ** 2 - rounding, 0.0) / level**2
                freedom += 1.0
        return float(np.sqrt(squares / freedom)), freedom

    def beliefs(self) -> dict[str, list[Belief]]:
        found: dict[str, list[Belief]] = {
            meters.OWNER: list(self.sensor.beliefs),
            "afternoon": [self.believed["distance offset"]],
        }
        for (lamp, source), group in self.groups.items():
            names = ("position", "aim", "tilt error", "beam exponent")
            found[f"{lamp}, {source}"] = [self.believed[name] for name in names]
            for r in group:
                found[_face_owner(r)] = [self.face]
                found[f"line {r.line}"] = [
                    Belief("last digit", 0.0, 0.5 * r.resolution, "lx", "the digits of the log", "uniform"),
                    Belief("repeatability", 0.0, self.noise, "1", "the repeats of the log, and an assumption"),
                    Belief("background drift", 0.0, self._drift(r), "lx", "the backgrounds, and an assumption"),
                ]
                for d in r.dark:
                    found[f"background, line {d.line}"] = [
                        Belief("last digit", 0.0, 0.5 * d.resolution, "lx", "the digits of the log", "uniform")
                    ]
                found.setdefault(self.bracket(r), [Belief("shared drift", 0.0, 1.0, "1", "a random walk")])
        return found

    def bracket(self, r: Reading) -> str:
        return "background between lines " + " and ".join(str(d.line) for d in r.dark)

    def _drift(self, r: Reading) -> float:
        # a random walk pinned at both backgrounds; with one background only, free from there on
        part = np.sqrt(r.position * (1.0 - r.position)) if len(r.dark) == 2 else 1.0
        return float(part * self.step * r.background)

    def with_unknown_scales(
        self, values: dict[tuple[str, str], NDArray[np.float64]], seed: int, draws: int
    ) -> dict[tuple[str, str], NDArray[np.float64]]:
        """Widen what rests on few repeats, as Student's distribution does."""
        from scipy.special import gammaincinv, ndtr

        scales = {}
        for name, freedom in (("repeatability", self.noise_freedom), ("background drift", self.step_freedom)):
            z = ndtr(uncertainty.standard_normal(seed, "afternoon", f"scale of {name}", draws))
            scales[name] = np.sqrt(0.5 * freedom / gammaincinv(0.5 * freedom, z))
        return {
            key: v * scales[key[1]] if key[0][:5] == "line " and key[1] in scales else v for key, v in values.items()
        }

    def intensity(
        self, group: tuple[str, str], values: Mapping[tuple[str, str], NDArray[np.float64]]
    ) -> NDArray[np.float64]:
        """The intensity towards the meter before mismatch correction [cd], averaged over the repeats."""
        owner = f"{group[0]}, {group[1]}"
        gamma, gain = (values[meters.OWNER, name] for name in ("linearity exponent", "calibration"))
        total: NDArray[np.float64] | float = 0.0
        for r in self.groups[group]:
            line = f"line {r.line}"
            background = sum(
                w * (d.illuminance + values[f"background, line {d.line}", "last digit"])
                for w, d in zip(r.dark_weights, r.dark, strict=True)
            )
            # two readings between the same backgrounds share half of the variance of what happened in between
            drift = values[line, "background drift"] + self._drift(r) * values[self.bracket(r), "shared drift"]
            background = np.maximum(background + drift * np.sqrt(0.5), 0.0)
            lit = r.illuminance + values[line, "last digit"] + r.net * values[line, "repeatability"]
            net = _linear(lit, gamma) - _linear(background, gamma)
            distance = r.distance + values["afternoon", "distance offset"] + values[owner, "position"]
            distance = np.maximum(distance, 0.2 * r.distance)
            angle = np.clip(r.tilt + values[owner, "tilt error"], -85.0, 85.0)
            response = meters.directional_response(angle, values[meters.OWNER, "directional exponent"])
            near: NDArray[np.float64] | float = 1.0
            if self.near[r.line]:
                near = lamp_face.near_field_factor(
                    distance, values[_face_owner(r), "face diameter"], values[owner, "beam exponent"]
                )
            total = total + net * distance**2 * gain * values[owner, "aim"] / (response * near)
        return np.asarray(total / len(self.groups[group]))

    def remarks(self) -> list[str]:
        taken = f"a round face of {1000 * self.face.typical:.0f} mm"
        if not self.face_given:
            taken += ", an assumption as the size was not given,"
        if any(self.near.values()):
            return [
                f"The meter stood nearer than the rule allows ({lamp_face.RULE}); the near field of {taken} was "
                "corrected."
            ]
        return [f"The meter stood far enough for {taken} ({lamp_face.RULE})."]


def _face_owner(reading: Reading) -> str:
    return f"face of {reading.lamp}"


def _linear(reading: ArrayLike, exponent: NDArray[np.float64]) -> NDArray[np.float64]:
    shown = np.maximum(np.asarray(reading, dtype=float), 1e-9)
    return np.asarray(shown * (shown / _REFERENCE) ** -exponent)
