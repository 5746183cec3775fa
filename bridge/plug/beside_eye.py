"""A picture's value beside what the person saw: where they differ by more than both are unsure, it is said."""

import math
from collections.abc import Iterable

from bridge.model import Photo, Reading

FAR = 2.0
"""So many combined standard uncertainties apart is more than both are unsure by (95 %) [1]."""


def apart(reading: Reading | None, photos: Iterable[Photo]) -> list[str]:
    """Return where eye and picture differ, a sentence each.

    Args:
        reading: what the person saw; None where nobody has read the plug.
        photos: of that plug and session; the newest counts, and one that cannot tell says nothing.
    """
    newest = max(photos, key=lambda photo: photo.id, default=None)
    said = None if reading is None or newest is None else _apart(reading, newest)
    return [] if said is None else [said]


def _apart(reading: Reading, photo: Photo) -> str | None:
    depth, sd = photo.answer.get("ring_depth_mm"), photo.answer.get("ring_depth_sd_mm")
    name = f"Eye and picture differ on plug {reading.plug}, session {reading.session}"
    if depth is None or sd is None:
        if reading.ring == "seen" and photo.answer.get("ring") == "none":
            return (
                f"{name}: you saw a ring, and photograph {photo.id} shows none; look again, in other light."
            )
        return None
    if reading.ring in {"none", "all-dark"}:
        what = "no ring" if reading.ring == "none" else "a nose that is dark all over"
        return (
            f"{name}: you saw {what}, and photograph {photo.id} shows a ring at {depth:.1f} mm; look again."
        )
    if reading.ring_mm is None:
        return None
    own_sd = reading.depth_sd_mm
    if abs(reading.ring_mm - depth) <= FAR * math.hypot(own_sd, sd):
        return None
    return (
        f"{name}: you read {reading.ring_mm:.1f} mm (standard uncertainty {own_sd:.1f}), and photograph {photo.id}"
        f" {depth:.1f} mm ({sd:.1f}), which is more than both are unsure by; check the marks of tip and seat and the"
        " nose length, and look again. Yours goes first."
    )
