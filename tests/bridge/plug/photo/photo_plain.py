"""A second, plain renderer with known truth: flat shapes and a dark bell across, as anybody would draw it first.

It shares nothing with photo_scenes but what a picture is handed over as: no geometry of a cone, no lamp, no CIE
lightness; grey levels of the file (0 to 255) are painted directly. All numbers are invented.
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from tests.bridge.plug.photo.photo_scenes import Picture


@dataclass(frozen=True)
class Drawn:
    """The ring's place, named as in photo_scenes."""

    depth_mm: float


@dataclass(frozen=True)
class Plain:
    """All that a plain picture is made of; lengths along the nose are shares of it, sizes in pixels."""

    seed: int = 0
    width: int = 600
    height: int = 600
    nose_mm: float = 14.0
    long: float = 300.0
    """Length of the nose [px]."""
    tip_half: float = 0.16
    seat_half: float = 0.22
    """Half its width at tip and seat."""
    round_tip: float = 0.0
    """How far its tip is rounded off."""
    angle: float = 90.0
    """Direction from tip to seat, clockwise from the right: 90 has the tip up."""
    off: tuple[float, float] = (0.0, 0.0)
    """How far its middle is off the picture's."""
    light: float = 225.0
    ground: float = 50.0
    ring: Drawn | None = None
    sigma: float = 0.04
    dark: float = 0.5
    """Share of its lightness that the ring takes."""
    bow: float = 0.0
    """How much deeper the ring lies in the middle than at the sides."""
    roundness: float = 0.0
    """Share of its lightness that the sides lose."""
    gradient: float = 0.0
    """Relative change of light over the picture, towards ``gradient_angle``."""
    gradient_angle: float = 0.0
    shell: str = "none"
    """none, block (wider, beyond the seat), band (over the whole picture) or slabs (beside the nose as well)."""
    shell_level: float = 110.0
    electrode: float = 0.0
    """Its level; 0 is none."""
    shadow: float = 0.0
    """Share of lightness lost at the seat."""
    specks: int = 0
    texture: float = 0.0
    blur: float = 1.0
    noise: float = 4.0


def draw(plain: Plain) -> Picture:
    """Draw it."""
    random = np.random.default_rng(plain.seed)
    s, t, tip, seat = _axes(plain)
    half = plain.tip_half + (plain.seat_half - plain.tip_half) * s
    begun = plain.round_tip * (1.0 - np.sqrt(np.clip(1.0 - (t / plain.tip_half) ** 2, 0.0, 1.0)))
    picture = np.full(s.shape, plain.ground)
    if plain.texture:
        cloud = ndimage.gaussian_filter(random.normal(size=s.shape), 6.0)
        picture += plain.texture * cloud / cloud.std()
    picture = _metal(plain, picture, s, t)
    across = np.clip(np.abs(t) / half, 0.0, 1.0)
    nose = plain.light * (1.0 - plain.roundness * across**2)
    if plain.ring is not None:
        place = plain.ring.depth_mm / plain.nose_mm + plain.bow * (np.sqrt(1.0 - across**2) - 1.0)
        nose = nose * (1.0 - plain.dark * np.exp(-0.5 * ((s - place) / plain.sigma) ** 2))
    nose = nose * (1.0 - plain.shadow * np.exp(-np.clip(1.0 - s, 0.0, None) / 0.05))
    for _ in range(plain.specks):
        where, aside = random.uniform(0.1, 0.9), random.uniform(-0.8, 0.8) * plain.tip_half
        nose = nose * (1.0 - 0.5 * np.exp(-((s - where) ** 2 + (t - aside) ** 2) / 0.012**2))
    picture = np.where((s >= begun) & (s <= 1.0) & (np.abs(t) <= half), nose, picture)
    y, x = np.mgrid[-0.5 : 0.5 : plain.height * 1j, -0.5 : 0.5 : plain.width * 1j]
    turn = np.radians(plain.gradient_angle)
    picture = picture * (1.0 + plain.gradient * (x * np.cos(turn) + y * np.sin(turn)))
    picture = ndimage.gaussian_filter(picture, plain.blur) + random.normal(0.0, plain.noise, s.shape)
    grey = np.clip(np.round(picture), 0, 255).astype(np.uint8)
    return Picture(np.repeat(grey[..., None], 3, axis=2), tip, seat, plain)


def _axes(plain: Plain):
    """Return where each pixel lies along and across the nose, and tip and seat [px]."""
    turn = np.radians(plain.angle)
    along = np.array([np.cos(turn), np.sin(turn)])
    middle = np.array([(plain.width - 1) / 2, (plain.height - 1) / 2]) + plain.off
    tip, seat = middle - along * plain.long / 2, middle + along * plain.long / 2
    y, x = np.mgrid[0 : plain.height, 0 : plain.width].astype(np.float64)
    s = ((x - tip[0]) * along[0] + (y - tip[1]) * along[1]) / plain.long
    t = (-(x - tip[0]) * along[1] + (y - tip[1]) * along[0]) / plain.long
    return s, t, (float(tip[0]), float(tip[1])), (float(seat[0]), float(seat[1]))


def _metal(plain: Plain, picture, s, t):
    wide = plain.seat_half * 1.6
    beyond = {
        "none": np.zeros(s.shape, dtype=bool),
        "block": (s > 1.0) & (np.abs(t) < wide),
        "band": s > 1.0,
        "slabs": ((s > 1.0) | (np.abs(t) > plain.seat_half * 1.25)) & (np.abs(t) < wide) & (s > 0.2),
    }[plain.shell]
    picture = np.where(beyond, plain.shell_level, picture)
    if plain.electrode:
        picture = np.where(
            (s < 0.0) & (s > -0.12) & (np.abs(t) < 0.4 * plain.tip_half), plain.electrode, picture
        )
    return picture


def random_plain(seed: int, *, ring: bool = True) -> Plain:
    """Return a plain picture drawn at random.

    Args:
        seed: of everything.
        ring: whether a ring is drawn.
    """
    r = np.random.default_rng(seed)
    width, height = (int(n) for n in r.choice([[400, 600], [600, 400], [640, 480], [480, 480], [300, 800]]))
    angle = 90.0 + float(r.choice([0.0, r.normal(0, 8), r.uniform(-180, 180)], p=[0.35, 0.35, 0.3]))
    turn = np.radians(angle)
    shell = str(r.choice(["none", "block", "band", "slabs"], p=[0.4, 0.3, 0.15, 0.15]))
    seat_half = float(r.uniform(0.12, 0.26))
    taper = float(r.choice([1.0, r.uniform(0.55, 0.9)], p=[0.2, 0.8]))
    wide = seat_half * (3.4 if shell == "slabs" else 2.0)
    fits = min(
        width / (abs(np.cos(turn)) + wide * abs(np.sin(turn))),
        height / (abs(np.sin(turn)) + wide * abs(np.cos(turn))),
    )
    long = float(fits * r.uniform(0.5, 0.92))
    nose = float(r.uniform(10.0, 17.0))
    ground = float(
        r.choice([r.uniform(10, 60), r.uniform(60, 130), r.uniform(130, 170)], p=[0.5, 0.35, 0.15])
    )
    light = float(r.uniform(205, 245))
    return Plain(
        seed=seed,
        width=width,
        height=height,
        nose_mm=nose,
        long=long,
        tip_half=seat_half * taper,
        seat_half=seat_half,
        round_tip=float(r.choice([0.0, r.uniform(0.02, 0.08)])),
        angle=angle,
        off=tuple(float(v) for v in r.normal(0, 0.02 * long, 2)),
        light=light,
        ground=ground,
        ring=Drawn(float(r.uniform(0.15, 0.82)) * nose) if ring else None,
        sigma=float(r.uniform(0.02, 0.07)),
        dark=float(r.uniform(0.15, 0.75)),
        bow=float(r.choice([0.0, r.normal(0, 0.03)])),
        roundness=float(r.choice([0.0, r.uniform(0.1, 0.45)])),
        gradient=float(r.choice([0.0, r.uniform(0.1, 0.6)])),
        gradient_angle=float(r.uniform(0, 360)),
        shell=shell,
        shell_level=float(r.uniform(60, 140)),
        electrode=float(r.choice([0.0, r.uniform(70, 140)])),
        shadow=float(r.choice([0.0, r.uniform(0.1, 0.4)], p=[0.7, 0.3])),
        specks=int(r.choice([0, 4], p=[0.7, 0.3])),
        texture=float(r.choice([0.0, 6.0], p=[0.8, 0.2])),
        blur=float(r.uniform(0.5, 3.0)),
        noise=float(r.uniform(1.0, 12.0)),
    )
