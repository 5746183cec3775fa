"""Rendered pictures of insulator noses with known truth: made by geometry and light alone.

Nothing here is shared with the estimator. A nose is a truncated cone seen by a far camera (weak perspective),
lit by one lamp and the sky, with a glaze that shines; the ring, a base ring, a nose colour, specks and a soft
shadow are painted on it in its own coordinates (depth from the tip, angle around). All numbers are invented.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from scipy import ndimage


@dataclass(frozen=True)
class Ring:
    """A dark ring: middle and width [mm], how much darker [L*], softness of its edges [mm]."""

    depth_mm: float
    width_mm: float = 1.2
    dark: float = 30.0
    soft_mm: float = 0.2
    slant_mm: float = 0.0
    """How far its middle wanders from one side to the other [mm]."""
    one_sided: float = 0.0
    """Share of its darkness that is lost on the far side of ``one_sided_at``."""
    one_sided_at: float = 0.0


@dataclass(frozen=True)
class Scene:
    """All that a picture is made of; lengths in mm, angles in degrees, sizes in pixels."""

    seed: int = 0
    width: int = 800
    height: int = 600
    nose_mm: float = 14.0
    tip_radius_mm: float = 2.2
    seat_radius_mm: float = 3.0
    mm_per_picture: float = 26.0
    """How many mm the longer side of the picture shows."""
    angle: float = 0.0
    """Direction from tip to seat in the picture, clockwise from the right."""
    tilt: float = 0.0
    """Tip towards the camera (+) or away from it (-)."""
    perspective: float = 0.0
    """Change of scale over the nose's length."""
    centre: tuple[float, float] = (0.5, 0.5)
    clean: float = 90.0
    colour: tuple[float, float, float] = (1.0, 0.97, 0.91)
    tan: float = 0.0
    """Gradual darkening from tip (-) or towards the seat (+) over the nose [L*]."""
    ring: Ring | None = None
    base_ring: float = 0.0
    base_ring_mm: float = 0.5
    """Its width, measured from the seat upward."""
    base_shadow: float = 0.0
    base_shadow_mm: float = 1.5
    tip_shadow: float = 0.0
    tip_shadow_mm: float = 1.0
    specks: int = 0
    light_angle: float = 0.0
    """Where around the nose the lamp stands; 0 is at the camera."""
    ambient: float = 0.4
    gloss: float = 0.0
    light_along: float = 0.0
    """Relative change of the light over the picture's length along ``light_direction``."""
    light_direction: float = 0.0
    exposure: float = 0.95
    background: str = "dark"
    background_light: float = 20.0
    shell: str = "socket"
    """What stands beyond the seat: socket, slabs (the cut shell's halves beside the nose) or nothing."""
    electrode: bool = True
    blur: float = 0.8
    noise: float = 0.01
    grain: float = 0.8
    """Correlation length of the noise [px]."""


@dataclass(frozen=True)
class Picture:
    """A rendered picture: 8-bit sRGB, and what is true of it (taps in pixels)."""

    pixels: np.ndarray
    tip: tuple[float, float]
    seat: tuple[float, float]
    scene: Scene = field(repr=False)


def luminance_of(lightness):
    """Return relative luminance of CIE L* (published: CIE 15, the inverse of its lightness function)."""
    lightness = np.asarray(lightness, dtype=np.float64)
    return np.where(lightness > 8.0, ((lightness + 16.0) / 116.0) ** 3, lightness / 903.3)


def encoded(linear):
    """Return 8-bit sRGB (published: IEC 61966-2-1)."""
    linear = np.clip(linear, 0.0, 1.0)
    curve = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.round(curve * 255.0).astype(np.uint8)


def render(scene: Scene) -> Picture:
    """Render a scene."""
    s, t, to_pixels = _frame(scene)
    z, around, on_nose = _surface(scene, s, t)
    random = np.random.default_rng(scene.seed)
    linear = _background(scene, random)
    light = _light(scene)
    linear = _furniture(scene, linear, s, t)
    nose = _paint(scene, z, around, random)
    nose = nose[..., None] * np.array(scene.colour) * _shade(scene, around)[..., None]
    nose = nose + _shine(scene, around)[..., None]
    linear = np.where(on_nose[..., None], nose, linear)
    linear = linear * light[..., None] * scene.exposure
    linear = ndimage.gaussian_filter(linear, (scene.blur, scene.blur, 0))
    grain = random.normal(size=linear.shape)
    if scene.grain > 0:
        grain = ndimage.gaussian_filter(grain, (scene.grain, scene.grain, 0))
        grain /= grain.std()
    linear = linear + scene.noise * grain * np.sqrt(np.clip(linear, 0.02, 1.0))
    tilt = np.cos(np.radians(scene.tilt))
    return Picture(encoded(linear), to_pixels(0.0), to_pixels(scene.nose_mm * tilt), scene)


def _frame(scene: Scene):
    """Return, for each pixel, mm along and across the seen axis from the tip; and the way back."""
    px_per_mm = max(scene.width, scene.height) / scene.mm_per_picture
    length = scene.nose_mm * np.cos(np.radians(scene.tilt))
    turn = np.radians(scene.angle)
    along = np.array([np.cos(turn), np.sin(turn)])
    across = np.array([-np.sin(turn), np.cos(turn)])
    middle = np.array([scene.width * scene.centre[0], scene.height * scene.centre[1]])
    y, x = np.mgrid[0 : scene.height, 0 : scene.width].astype(np.float64)
    dx, dy = (x - middle[0]) / px_per_mm, (y - middle[1]) / px_per_mm
    seen_s, seen_t = dx * along[0] + dy * along[1], dx * across[0] + dy * across[1]
    k = scene.perspective / scene.nose_mm
    # scale falls as 1 / (1 + k s): seen = s / (1 + k s)
    s = seen_s / (1.0 - k * seen_s)
    t = seen_t * (1.0 + k * s)

    def to_pixels(mm: float) -> tuple[float, float]:
        from_middle = mm - length / 2
        where = middle + along * from_middle / (1 + k * from_middle) * px_per_mm
        return float(where[0]), float(where[1])

    return s + length / 2, t, to_pixels


def _surface(scene: Scene, s, t):
    """Return depth from the tip [mm], sine of the angle around (-1 to 1), and where the nose is seen."""
    tilt = np.radians(scene.tilt)
    grow = (scene.seat_radius_mm - scene.tip_radius_mm) / scene.nose_mm
    z = s / np.cos(tilt)
    for _ in range(6):
        radius = scene.tip_radius_mm + grow * z
        height = np.sqrt(np.clip(radius**2 - t**2, 0.0, None))
        z = (s - height * np.sin(tilt)) / np.cos(tilt)
    radius = np.maximum(scene.tip_radius_mm + grow * z, 1e-3)
    side = (np.abs(t) < radius) & (z >= 0) & (z <= scene.nose_mm)
    # the tip's face, seen where the tip leans to the camera
    face = np.zeros_like(side)
    if scene.tilt > 0:
        face = (s / np.sin(tilt)) ** 2 + t**2 < scene.tip_radius_mm**2
    z = np.where(face & ~side, 0.0, z)
    return z, np.clip(t / radius, -1.0, 1.0), side | face


def _paint(scene: Scene, z, around, random):
    """Return the nose's own relative luminance."""
    lightness = np.full(z.shape, scene.clean)
    share = np.clip(z / scene.nose_mm, 0.0, 1.0)
    lightness -= scene.tan * share if scene.tan >= 0 else scene.tan * (share - 1.0)
    if scene.ring is not None:
        lightness -= _ring(scene.ring, z, around)
    up = scene.nose_mm - z
    lightness -= scene.base_ring * _step(scene.base_ring_mm - up, 0.1)
    lightness -= scene.base_shadow * np.exp(-np.clip(up, 0, None) / scene.base_shadow_mm)
    lightness -= scene.tip_shadow * np.exp(-np.clip(z, 0, None) / scene.tip_shadow_mm)
    for _ in range(scene.specks):
        where, at = random.uniform(0.1, 0.95) * scene.nose_mm, random.uniform(-0.9, 0.9)
        size = random.uniform(0.08, 0.35)
        gap = ((z - where) / size) ** 2 + ((around - at) * scene.seat_radius_mm / size) ** 2
        lightness -= random.uniform(20, 60) * np.exp(-(gap**2))
    return luminance_of(np.clip(lightness, 3.0, 100.0))


def _ring(ring: Ring, z, around):
    away = z - ring.depth_mm - ring.slant_mm / 2 * around
    soft = max(ring.soft_mm, 0.02)
    shape = _step(ring.width_mm / 2 - away, soft) * _step(ring.width_mm / 2 + away, soft)
    side = 0.5 * (1 + np.sin(np.arcsin(around) - np.radians(ring.one_sided_at)))
    return ring.dark * shape * (1 - ring.one_sided * side)


def _step(x, soft):
    return 1.0 / (1.0 + np.exp(-np.clip(x / (soft / 1.7), -50, 50)))


def _shade(scene: Scene, around):
    angle = np.arcsin(around)
    lamp = np.clip(np.cos(angle - np.radians(scene.light_angle)), 0.0, None)
    return scene.ambient + (1 - scene.ambient) * lamp


def _shine(scene: Scene, around):
    half = np.radians(scene.light_angle) / 2
    return scene.gloss * np.exp(-(((np.arcsin(around) - half) / 0.10) ** 2))


def _light(scene: Scene):
    turn = np.radians(scene.light_direction)
    y, x = np.mgrid[-0.5 : 0.5 : scene.height * 1j, -0.5 : 0.5 : scene.width * 1j]
    return np.clip(1.0 + scene.light_along * (x * np.cos(turn) + y * np.sin(turn)), 0.1, None)


def _background(scene: Scene, random):
    shape = (scene.height, scene.width)
    lightness = np.full(shape, scene.background_light)
    if scene.background == "textured":
        coarse = max(scene.width, scene.height) / 60
        cloud = ndimage.gaussian_filter(random.normal(size=shape), coarse)
        fine = ndimage.gaussian_filter(random.normal(size=shape), 1.0)
        lightness = lightness + 6 * cloud / cloud.std() + 4 * fine / fine.std()
    elif scene.background == "weave":
        y, x = np.mgrid[0 : scene.height, 0 : scene.width]
        pitch = max(scene.width, scene.height) / 50
        lightness = lightness + 6 * np.sin(2 * np.pi * (x + 0.3 * y) / pitch) * np.sin(2 * np.pi * y / pitch)
    tint = 1.0 + random.uniform(-0.15, 0.15, size=3)
    return luminance_of(np.clip(lightness, 2, 98))[..., None] * tint


def _furniture(scene: Scene, linear, s, t):
    """Draw metal: the shell beyond the seat, or its halves beside the nose; the centre electrode."""
    length = scene.nose_mm * np.cos(np.radians(scene.tilt))
    lean = np.sin(np.radians(scene.tilt))
    steel = luminance_of(58.0) * np.array([0.98, 1.0, 1.03])

    def round_bar(radius, start, mark):
        bulge = np.sqrt(np.clip(radius**2 - t**2, 0, None))
        inside = (np.abs(t) < radius) & mark(s - bulge * lean - start)
        shade = 0.35 + 0.65 * np.clip(bulge / radius, 0, 1) ** 2
        return inside, shade

    if scene.shell == "socket":
        radius = scene.seat_radius_mm * 1.9
        # its rim is a circle too: seen as an ellipse where the nose leans to the camera
        inside, shade = round_bar(
            radius,
            length,
            lambda d: d > (0 if lean <= 0 else -2 * np.sqrt(np.clip(radius**2 - t**2, 0, None)) * lean),
        )
        thread = 0.8 + 0.2 * np.sin(2 * np.pi * s / 1.25)
        linear = np.where(inside[..., None], (shade * thread)[..., None] * steel, linear)
    elif scene.shell == "slabs":
        wall = (np.abs(t) > scene.seat_radius_mm * 1.45) & (np.abs(t) < scene.seat_radius_mm * 2.1)
        wall &= s > length * 0.15
        floor = (s > length) & (np.abs(t) < scene.seat_radius_mm * 2.1)
        linear = np.where(wall[..., None], 0.8 * steel, linear)
        linear = np.where(floor[..., None], 0.45 * steel, linear)
    if scene.electrode:
        radius = scene.tip_radius_mm * 0.5
        inside, shade = round_bar(radius, 0.0, lambda d: (d < 0) & (d > -1.6))
        linear = np.where(inside[..., None], shade[..., None] * 0.6 * steel, linear)
    return linear


def random_scene(seed: int, *, ring: bool = True, hard: bool = False, largest: int = 1200) -> Scene:
    """Return a scene drawn at random: light, tilt, ring, background, blur and noise of many kinds.

    Args:
        seed: of everything.
        ring: whether a mixture ring is drawn.
        hard: draws fainter rings, more tilt and more noise.
        largest: most pixels of the longer side.
    """
    r = np.random.default_rng(seed)
    nose = float(r.uniform(9.0, 18.0))
    long_side = int(r.choice([240, 400, 640, 900, 1200], p=[0.1, 0.2, 0.3, 0.25, 0.15]))
    long_side = min(long_side, largest)
    wide = bool(r.random() < 0.6)
    short = int(long_side * r.uniform(0.7, 0.9))
    share = r.uniform(0.42, 0.68)  # of the longer side that the nose takes
    angle = (
        float(r.uniform(-180, 180))
        if r.random() < 0.6
        else float(r.choice([0, 90, 180, -90]) + r.normal(0, 6))
    )
    shrink = min(
        1.0, short / long_side / max(abs(np.sin(np.radians(angle - (0 if wide else 90)))) + 0.25, 0.5)
    )
    seat_radius = float(r.uniform(2.3, 3.6))
    background = str(r.choice(["dark", "light", "mid", "textured", "weave"], p=[0.3, 0.2, 0.15, 0.2, 0.15]))
    level = {"dark": r.uniform(6, 35), "light": r.uniform(72, 84), "mid": r.uniform(40, 60)}
    grown = float(r.uniform(0.62, 0.97))
    scene = Scene(
        seed=seed,
        width=long_side if wide else short,
        height=short if wide else long_side,
        nose_mm=nose,
        tip_radius_mm=seat_radius * grown,
        seat_radius_mm=seat_radius,
        mm_per_picture=nose / (share * shrink),
        angle=angle,
        tilt=float(r.normal(0, 12 if hard else 7)),
        perspective=float(r.normal(0, 0.02)),
        centre=(float(r.uniform(0.46, 0.54)), float(r.uniform(0.46, 0.54))),
        clean=float(r.uniform(82, 94)),
        colour=(1.0, float(r.uniform(0.93, 1.0)), float(r.uniform(0.80, 0.98))),
        tan=float(r.choice([0.0, r.uniform(0, 14), r.uniform(-8, 0)])),
        base_ring=float(r.choice([0.0, r.uniform(10, 45)], p=[0.65, 0.35])),
        base_ring_mm=float(r.uniform(0.02, 0.05) * nose),
        base_shadow=float(r.choice([0.0, r.uniform(5, 35)], p=[0.5, 0.5])),
        base_shadow_mm=float(r.uniform(0.4, 1.6)),
        tip_shadow=float(r.choice([0.0, r.uniform(5, 25)], p=[0.6, 0.4])),
        tip_shadow_mm=float(r.uniform(0.2, 0.8)),
        specks=int(r.choice([0, 3, 10], p=[0.5, 0.3, 0.2])),
        light_angle=float(r.uniform(-60, 60)),
        ambient=float(r.uniform(0.25, 0.7)),
        gloss=float(r.choice([0.0, r.uniform(0.05, 0.7)])),
        light_along=float(r.uniform(-0.7, 0.7)),
        light_direction=float(r.uniform(0, 360)),
        exposure=float(r.uniform(0.6, 1.15)),
        background=background,
        background_light=float(level.get(background, r.uniform(15, 60))),
        shell=str(r.choice(["socket", "slabs", "none"], p=[0.5, 0.3, 0.2])),
        electrode=bool(r.random() < 0.8),
        blur=float(r.uniform(0.4, 2.2) * long_side / 800),
        noise=float(r.uniform(0.003, 0.06 if hard else 0.035)),
        grain=float(r.uniform(0.3, 1.2)),
    )
    if not ring:
        return scene
    low = 5.0 if hard else 8.0
    width = float(r.uniform(0.5, 3.0))
    first = 0.5 * width + 0.08 * nose
    last = 0.88 * nose - 0.5 * width - (scene.base_ring_mm if scene.base_ring else 0.0)
    drawn = Ring(
        depth_mm=float(r.uniform(first, max(last, first + 0.1))),
        width_mm=width,
        dark=float(np.exp(r.uniform(np.log(low), np.log(75.0)))),
        soft_mm=float(r.uniform(0.05, 0.6)),
        slant_mm=float(r.normal(0, 0.4)),
        one_sided=float(r.choice([0.0, r.uniform(0.2, 0.8)], p=[0.7, 0.3])),
        one_sided_at=float(r.uniform(-60, 60)),
    )
    return replace(scene, ring=drawn)
