"""How well rings are read off rendered pictures: shared by the tests.

``pytest -m slow -s tests/bridge/plug/photo`` prints the figures over a thousand pictures.
"""

import time
from dataclasses import dataclass

import numpy as np

from bridge.plug.photo import read_photo
from tests.bridge.plug.photo.photo_scenes import Picture, random_scene, render

TAP_SCATTER = 0.007
"""How far a tap is off tip or seat along and across the nose, as a share of its length (one deviation)."""


@dataclass(frozen=True)
class Outcome:
    """One picture read."""

    seed: int
    drawn: bool
    ring: str
    confidence: float
    error: float
    """Read less true depth over the nose's length; nan where there is none."""
    z: float
    """The same over the stated standard uncertainty."""
    sd: float
    seconds: float
    """Of one core."""
    flipped: bool
    """Tip and seat were taken for each other."""

    @property
    def right(self):
        """Whether the answer is right in the sense of the confidence."""
        return abs(self.error) < 0.05 if self.ring == "seen" else not self.drawn


def taps_of(picture: Picture, scatter: float = TAP_SCATTER):
    """Return tip and seat as a finger would tap them, inside the picture."""
    random = np.random.default_rng(picture.scene.seed + 1)
    tip, seat = np.array(picture.tip), np.array(picture.seat)
    long = np.hypot(*(seat - tip))
    most = np.array([picture.pixels.shape[1] - 1, picture.pixels.shape[0] - 1])
    return tuple(
        tuple(float(v) for v in np.clip(p + random.normal(0, scatter * long, 2), 0, most))
        for p in (tip, seat)
    )


def outcome(seed: int, *, ring: bool, taps: bool, hard: bool = False, largest: int = 1200) -> Outcome:
    """Render one picture and read it."""
    return outcome_of(render(random_scene(seed, ring=ring, hard=hard, largest=largest)), taps=taps)


def outcome_of(picture: Picture, *, taps: bool) -> Outcome:
    """Read a rendered picture."""
    scene = picture.scene
    tip, seat = taps_of(picture) if taps else (None, None)
    begun = time.process_time()
    found = read_photo(picture.pixels, nose_mm=scene.nose_mm, tip=tip, seat=seat)
    seconds = time.process_time() - begun
    error = z = sd = np.nan
    if found.ring_depth_mm is not None:
        sd = found.ring_depth_sd_mm / scene.nose_mm
        if scene.ring is not None:
            error = (found.ring_depth_mm - scene.ring.depth_mm) / scene.nose_mm
            z = error / sd
    flipped = False
    if found.tip is not None:
        forth, true = np.subtract(found.seat, found.tip), np.subtract(picture.seat, picture.tip)
        flipped = bool(forth @ true < 0)
    return Outcome(
        scene.seed, scene.ring is not None, found.ring, found.confidence, error, z, sd, seconds, flipped
    )


def many(count: int) -> None:
    """Print the figures over so many pictures, half of them without a ring, and hold them to what is promised."""
    for taps in (True, False):
        done = [outcome(700_000 + i, ring=i % 2 == 0, taps=taps, hard=i % 4 >= 2) for i in range(count)]
        drawn, bare = [o for o in done if o.drawn], [o for o in done if not o.drawn]
        seen = [o for o in drawn if o.ring == "seen"]
        errors = np.abs([o.error for o in seen])
        held = float(np.mean(np.abs([o.z for o in seen]) < 1.96))
        print("taps" if taps else "own proposal", f"{len(drawn)} with a ring, {len(bare)} without")
        print(f"  seen {len(seen)}, none {sum(o.ring == 'none' for o in drawn)}")
        print(
            f"  error of the nose's length: median {np.median(errors):.2%}, 95th {np.quantile(errors, 0.95):.2%}"
        )
        print(f"  within 1.96 sd {held:.1%}, mean sd {np.mean([o.sd for o in seen]):.2%}")
        false = [o for o in bare if o.ring == "seen"]
        print(f"  false rings {len(false)}: {[(o.seed, round(o.confidence, 2)) for o in false]}")
        print(f"  called none where none was drawn {sum(o.ring == 'none' for o in bare)}")
        print(f"  tip and seat taken for each other {sum(o.flipped for o in done)}")
        for low, high in ((0.01, 0.5), (0.5, 0.8), (0.8, 0.95), (0.95, 1.0)):
            some = [o for o in done if low <= o.confidence < high]
            if some:
                stated, right = np.mean([o.confidence for o in some]), np.mean([o.right for o in some])
                print(f"  confidence {stated:.2f}: right {right:.2f} of {len(some)}")
        print(f"  seconds of a core: median {np.median([o.seconds for o in done]):.2f}", flush=True)
        assert np.median(errors) < (0.015 if taps else 0.03)
        assert len(false) <= 0.01 * len(bare)
