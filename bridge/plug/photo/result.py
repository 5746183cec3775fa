"""What a photograph says of a ring, in numbers and in words."""

from dataclasses import dataclass
from typing import Any, Literal

from bridge.plug.photo.light import Array
from bridge.plug.photo.strip import Point

Seen = Literal["seen", "none", "cannot tell"]

_ALONE = (
    "The ring is found by its lightness alone: a shadow, a smear or a scratch that runs round the nose may pass"
    " for one, and a flash or a wet nose may hide one."
)
_CLOSE = (
    "A picture from close by, or of a nose that leans to the camera, shifts depths; turn the nose across the view"
    " and step back."
)
LIMITS = (_ALONE, _CLOSE, "It was tried on rendered pictures, not on photographs of known plugs.")
"""Known limits, which stand beside every result."""

YOURS_WINS = "What you read with your own eyes always goes first; the picture's value is kept beside it."

CONFIDENCE = (
    "confidence is the share of rendered pictures with such an answer in which it was right: a ring was drawn and"
    " its depth is within 5 % of the nose's length, or none was drawn; lowered by an assumed share where the upper of"
    " two ends that look alike was taken for the tip"
)


@dataclass(frozen=True)
class PhotoReading:
    """What a photograph says of a ring."""

    ring: Seen
    confidence: float
    """0 to 1, see CONFIDENCE; 0 where it cannot tell."""
    because: tuple[str, ...]
    """Why it says so, in sentences."""
    nose_mm: float
    view: Literal["cut", "magnifier"]
    tip: Point | None
    """Where tip and seat were taken to be [px of the upright picture]."""
    seat: Point | None
    proposed: bool
    """They are the tool's own proposal, not taps."""
    ring_depth_mm: float | None = None
    """Middle of the ring from the tip [mm]; only where one is seen."""
    ring_depth_sd_mm: float | None = None
    """Standard uncertainty of it [mm]."""
    ring_width_mm: float | None = None
    darkness: float | None = None
    """How much darker the ring is than the nose beside it [L*]."""
    suggestion: Literal["all-dark"] | None = None
    """What the tuner may find if they look: none of it is claimed."""
    profile_mm: Array | None = None
    """(n,) depth from the tip of each row of the profile [mm]."""
    profile_lightness: Array | None = None
    """(n,) lightness along the nose, evened over its width [L*]."""

    def to_json(self) -> dict[str, Any]:
        """Return the answer's keys as the command line gives them."""
        rounded = {
            "ring_depth_mm": self.ring_depth_mm,
            "ring_depth_sd_mm": self.ring_depth_sd_mm,
            "ring_width_mm": self.ring_width_mm,
            "darkness": self.darkness,
        }
        return {
            "ring": self.ring,
            **{key: None if value is None else round(value, 3) for key, value in rounded.items()},
            "confidence": round(self.confidence, 3),
            "suggestion": self.suggestion,
            "because": list(self.because),
            "nose_mm": self.nose_mm,
            "view": self.view,
            "tip": _rounded(self.tip),
            "seat": _rounded(self.seat),
            "proposed": self.proposed,
            "limits": [*LIMITS, YOURS_WINS],
        }

    def in_words(self) -> list[str]:
        """Return the answer as sentences, known limits last."""
        if self.ring == "seen":
            assert self.ring_depth_mm is not None  # a ring that is seen has its numbers
            assert self.ring_depth_sd_mm is not None
            assert self.ring_width_mm is not None
            assert self.darkness is not None
            first = (
                f"a ring is seen {self.ring_depth_mm:.1f} mm from the tip, standard uncertainty"
                f" {self.ring_depth_sd_mm:.1f} mm, {self.ring_width_mm:.1f} mm wide and {self.darkness:.0f} L* darker"
                f" than the nose beside it (confidence {self.confidence:.2f})"
            )
        elif self.ring == "none":
            first = f"no ring is seen (confidence {self.confidence:.2f})"
        else:
            first = "it cannot tell"
        return [first, *self.because, *LIMITS, YOURS_WINS]


def _rounded(point: Point | None) -> list[float] | None:
    return None if point is None else [round(point[0], 1), round(point[1], 1)]
