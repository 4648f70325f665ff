"""Vehicles as nets of wires with one fault in them, which show what is seen by Kirchhoff's laws and by nothing else."""

from dataclasses import dataclass, replace

from reference.nodal_analysis import Circuit, Law, Solved, filament, led, resistor

from lampkit.circuits.fault_finding import FaultCause, Scene
from lampkit.circuits.loads import Load, LoadKind, filament_load

Meter = tuple[str, str] | None
"""The two nodes that a voltmeter lies on."""


def law_of(load: Load) -> Law:
    watts = load.current * load.voltage
    if load.kind is LoadKind.FILAMENT:
        return filament(watts, load.voltage)
    # 9 V of 13.5 V, from which a regulated LED holds its current: GRE-81-04, read in a secondary text.
    held = load.voltage * 9.0 / 13.5
    if load.kind is not LoadKind.REGULATED_LED or held <= load.threshold_voltage:
        return led(watts, load.voltage, load.threshold_voltage, bridge=load.either_way)
    return led(watts, load.voltage, load.threshold_voltage, bridge=load.either_way, held_from=held)


def light_of(load: Load, volts: float) -> float:
    """Share of its light: V^3.4 for a filament, the share of the current for an LED."""
    if load.kind is LoadKind.FILAMENT:
        return float((abs(volts) / load.voltage) ** 3.4)
    return abs(law_of(load)(volts)) / load.current


SIZES = {
    FaultCause.TIRED_EARTH: (0.2, 0.5, 2.0, 5.0, 9.0, 20.0, 40.0),
    FaultCause.POOR_CONTACT: (30.0, 300.0, 3000.0, 30000.0),
    FaultCause.LEAKAGE: (3000.0,),
}
"""Ohms of the fault in the made-up vehicles: the least that does what is seen."""


@dataclass
class MadeUp:
    """A vehicle as a net of wires, with one fault in it."""

    scene: Scene
    cause: FaultCause
    ohms: float = 0.0

    def net(self, *, on: bool = True, old: bool = False, earth_wire: bool = False, meter: Meter = None) -> Solved:
        """Wire it up: battery, feed, contact, lamp, shell, earth; what else is on circuit and shell, and far away."""
        s, cause = self.scene, self.cause
        lamp = (s.old or filament_load(5 * s.supply_voltage / 12, 1.07 * s.supply_voltage)) if old else s.lamp
        net = Circuit({"battery": s.supply_voltage})
        net.join("feed", "battery", "feed", resistor(1e12 if cause is FaultCause.NO_SUPPLY or not on else 0.02))
        # The film gives way to the current of a filament.
        film = self.ohms if cause is FaultCause.POOR_CONTACT and not (old or not s.lamp.is_led) else 0.01
        net.join("contact", "feed", "contact", resistor(film))
        series, tired = cause is FaultCause.SERIES_WITH_LAMPS, cause is FaultCause.TIRED_EARTH
        floats = series or cause is FaultCause.LOST_EARTH
        net.join("earth", "shell", "earth", resistor(1e12 if floats else self.ohms if tired else 0.02))
        if earth_wire:
            net.join("earth wire", "shell", "earth", resistor(0.02))
        law = law_of(lamp)
        turned = cause is FaultCause.REVERSED and not old
        dead = cause is FaultCause.LAMP_DEAD and not old
        if not dead:
            net.join("lamp", "contact", "shell", (lambda volts: -law(-volts)) if turned else law)
        for number, other in enumerate(s.others):
            a, b = ("shell", "earth") if series else ("feed", "shell" if tired else "earth")
            net.join(f"other {number}", a, b, law_of(other))
        for number, other in enumerate(() if series else s.sharing):
            # Its own feed is off, and lies at earth through its twin on the other side.
            net.join(f"sharing {number}", "shell", f"twin {number}", law_of(other))
            net.join(f"twin {number}", f"twin {number}", "earth", resistor(0.5))
        if cause is FaultCause.LEAKAGE:
            net.join("leak", "battery", "contact", resistor(self.ohms))
        if cause is FaultCause.TELL_TALE_FEEDS_BACK:
            net.join("tell-tale", "battery", "far", filament(2.2 * s.supply_voltage / 12, s.supply_voltage))
            for number, other in enumerate(s.far):
                there = filament_load(25, 1.07 * s.supply_voltage) if old else other
                net.join(f"far {number}", "far", "earth", law_of(there))
        if cause is FaultCause.BRIDGED_CONTACTS:
            net.join("other function", "battery" if not on else "other", "other", resistor(0.02))
            net.join("pad", "other", "contact", resistor(1e9 if old else 0.05))
        if meter is not None:
            net.join("meter", *meter, resistor(10e6))
        return net.solve()

    def light(self, **how: bool) -> float:
        lamp = self.scene.lamp
        if how.get("old"):
            volts = self.scene.supply_voltage
            lamp = self.scene.old or filament_load(5 * volts / 12, 1.07 * volts)
        if self.cause is FaultCause.LAMP_DEAD and not how.get("old"):
            return 0.0
        found = self.net(**how, meter=("contact", "shell"))
        volts = found.volts("contact", "shell")
        turned = self.cause is FaultCause.REVERSED and not how.get("old")
        return (
            light_of(lamp, -volts)
            if turned and not lamp.either_way and volts < 0
            else (0.0 if turned and not lamp.either_way else light_of(lamp, volts))
        )

    def shows(self, symptom: str, **how: bool) -> bool:
        """Look whether the fault does what is seen."""
        sound = light_of(self.scene.lamp, self.scene.supply_voltage)
        if symptom in ("stays dark", "dark until all are changed", "works on the bench only"):
            return self.light(**how) <= 0.05 * sound
        if symptom == "dim after the change":
            return 0.05 * sound < self.light(**how) <= 0.8 * sound
        if symptom == "glows when off" and self.cause is not FaultCause.TELL_TALE_FEEDS_BACK:
            return self.light(on=False, **how) > 0.003
        if symptom in ("tell-tale lights both sides", "glows when off"):
            there = filament_load(25, 1.07 * self.scene.supply_voltage) if how.get("old") else self.scene.far[0]
            found = self.net(**how)
            return "far" in found.nodes and light_of(there, found.volts("far")) > 0.003
        # Tail and turn: the one on the same shell lights with it, or it loses light when the other joins.
        found, sharing = self.net(**how), self.scene.sharing
        if any(light_of(one, found.volts("shell", f"twin {n}")) > 0.003 for n, one in enumerate(sharing)):
            return True
        alone, joined = replace(self.scene, sharing=()), replace(self.scene, others=sharing, sharing=())
        before = MadeUp(alone, self.cause, self.ohms).light(**how)
        return before > 0.003 and MadeUp(joined, self.cause, self.ohms).light(**how) / before < 0.9


BEYOND_NETS = ("flashes fast", "flashes slowly", "does not flash", "bright and dim exchanged", "flickers")
"""What no net of lamps shows."""


NETTED = (
    FaultCause.LOST_EARTH, FaultCause.TIRED_EARTH, FaultCause.POOR_CONTACT, FaultCause.NO_SUPPLY, FaultCause.REVERSED,
    FaultCause.LAMP_DEAD, FaultCause.LEAKAGE, FaultCause.TELL_TALE_FEEDS_BACK, FaultCause.BRIDGED_CONTACTS,
    FaultCause.SERIES_WITH_LAMPS,
)  # fmt: skip


def made_up(symptom: str, scene: Scene, cause: FaultCause) -> MadeUp:
    """Build the vehicle with the least fault of its kind that does what is seen."""
    if symptom in BEYOND_NETS:
        return MadeUp(scene, cause, 2.0)
    tried = [MadeUp(scene, cause, ohms) for ohms in SIZES.get(cause, (0.0,))]
    done = [one for one in tried if one.shows(symptom)]
    assert done, f"{cause.value} does not do it: {symptom}"
    return done[0]
