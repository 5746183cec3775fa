"""Rides with pulls and with what is none, written by a script, with their truth. Invented, by no formula of ours.

A bike is pushed along by a torque that depends on speed, against drag; its revs follow the wheel by the gear, unless
the script lets a clutch or a wheel slip. What the tests hold the finder against is the script itself.
"""

from dataclasses import dataclass, field

import numpy as np
import polars as pl

STEP_S = 0.01
RATIOS = (125.0, 88.0, 68.0, 56.0, 48.0, 43.0)
"""Revs a minute for each km/h, first gear to sixth."""


@dataclass(frozen=True)
class Was:
    """What the script did."""

    kind: str
    start_s: float
    end_s: float
    gear: int | None = None


@dataclass
class Ride:
    """A script that is being ridden; every method adds a stretch of it."""

    seed: int
    hz: float = 50.0
    on_wheel: bool = False
    """The speed is that of the driven wheel, which spins with the engine; else that of the ground."""
    noise: float = 8.0
    torque: float = 1.0
    speed: float = 0.0
    gear: int = 1
    rows: list[tuple[float, float, float]] = field(default_factory=list)
    truth: list[Was] = field(default_factory=list)

    @property
    def now(self):
        """Seconds since the start."""
        return len(self.rows) * STEP_S

    @property
    def ratio(self):
        """Of the gear."""
        return RATIOS[self.gear - 1]

    def push(self, rpm):
        """Acceleration [km/h/s] at full throttle."""
        pull = self.torque * self.ratio / RATIOS[0] * 34.0 * (1.0 - ((rpm - 8500.0) / 11_000.0) ** 2)
        return pull - 0.00022 * self.speed**2

    def add(self, throttle, rpm, speed=None):
        """Add one step."""
        self.rows.append((throttle, rpm, self.speed if speed is None else speed))

    def coast(self, seconds, *, to=None, throttle=8.0):
        """Ride on at part throttle, slowing down to a speed."""
        to = self.speed if to is None else to
        steps = round(seconds / STEP_S)
        for speed in np.linspace(self.speed, to, steps):
            self.speed = float(speed)
            self.add(throttle, max(self.speed * self.ratio, 1400.0))
        return self

    def full(self, until_rpm, kind="pull"):
        """Open the throttle until the revs are there."""
        start = self.now
        while (rpm := self.speed * self.ratio) < until_rpm:
            self.speed += self.push(rpm) * STEP_S
            self.add(100.0, rpm)
        self.truth.append(Was(kind, start, self.now, self.gear))
        return self

    def shift(self, gear, seconds=0.15, *, open_=True):
        """Change gear, with the throttle open or shut."""
        before, start = self.ratio, self.now
        self.gear = gear
        for share in np.linspace(0.0, 1.0, round(seconds / STEP_S)):
            self.add(100.0 if open_ else 0.0, self.speed * (before + (self.ratio - before) * share))
        self.truth.append(Was("shift", start, self.now))
        return self

    def launch(self, rpm=7500.0):
        """Pull away from a standstill at full throttle, the clutch slipping at these revs."""
        self.gear, self.speed, start = 1, 1.0, self.now
        while self.speed * self.ratio < rpm:
            self.speed += 26.0 * STEP_S
            self.add(100.0, rpm)
        self.truth.append(Was("launch", start, self.now))
        return self

    def spin(self, seconds=0.6, by=0.30):
        """Let the wheel spin: the revs shoot up and fall back onto the speed."""
        start, steps = self.now, round(seconds / STEP_S)
        for k in range(steps):
            self.speed += 0.5 * self.push(self.speed * self.ratio) * STEP_S
            share = k / steps
            away = 1.0 + by * (share / 0.6 if share < 0.6 else (1.0 - share) / 0.4)
            self.add(100.0, self.speed * self.ratio * away, self.speed * away if self.on_wheel else None)
        self.truth.append(Was("wheelspin", start, self.now))
        return self

    def slip(self, seconds=1.6, by=0.10):
        """Let the clutch slip: the revs run off slowly and come back."""
        start, steps = self.now, round(seconds / STEP_S)
        for k in range(steps):
            self.speed += 0.9 * self.push(self.speed * self.ratio) * STEP_S
            self.add(100.0, self.speed * self.ratio * (1.0 + by * np.sin(np.pi * k / steps)))
        self.truth.append(Was("clutch slip", start, self.now))
        return self

    def hold(self, seconds):
        """Keep the revs at full throttle, as a brake does."""
        start = self.now
        for _ in range(round(seconds / STEP_S)):
            self.add(100.0, self.speed * self.ratio)
        self.truth.append(Was("hold", start, self.now))
        return self

    def shut(self, seconds=2.0):
        """Shut the throttle; the engine brakes."""
        for _ in range(round(seconds / STEP_S)):
            self.speed = max(self.speed - (4.0 + 0.0004 * self.speed**2) * STEP_S, 0.0)
            self.add(0.0, max(self.speed * self.ratio, 1400.0))
        return self

    def cut(self):
        """Cut the ignition at full throttle, the clutch in."""
        start, rpm = self.now, self.speed * self.ratio
        for _ in range(120):
            rpm *= 1.0 - 3.0 * STEP_S
            self.speed -= 2.0 * STEP_S
            self.add(100.0, rpm)
        self.truth.append(Was("cut", start, self.now))
        return self

    def frame(self, *, speed=True, throttle=True):
        """Return what a logger would have, at its own rate and with its noise."""
        rng = np.random.default_rng(self.seed)
        table = np.array(self.rows)
        at = np.arange(0.0, self.now - STEP_S, 1.0 / self.hz)
        opening, rpm, road = (np.interp(at, np.arange(len(table)) * STEP_S, column) for column in table.T)
        columns = {"t_s": at, "rpm": rpm + rng.normal(0.0, self.noise, len(at))}
        if throttle:
            columns["throttle"] = np.clip(opening + rng.normal(0.0, 0.3, len(at)), 0.0, 100.0)
        if speed:
            columns["speed"] = np.maximum(road + rng.normal(0.0, 0.15, len(at)), 0.0)
        return pl.DataFrame(columns)

    def of(self, *kinds):
        """What the script did of some kinds, in order."""
        return [was for was in self.truth if was.kind in kinds]
