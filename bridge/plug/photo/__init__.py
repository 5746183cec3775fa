"""A photograph of the insulator nose: where the ring is, how sure that is, or that it cannot be told."""

from bridge.plug.photo.find import Proposal, propose
from bridge.plug.photo.reading import check_taps, read_photo
from bridge.plug.photo.result import CONFIDENCE, LIMITS, YOURS_WINS, PhotoReading

__all__ = [
    "CONFIDENCE",
    "LIMITS",
    "YOURS_WINS",
    "PhotoReading",
    "Proposal",
    "check_taps",
    "propose",
    "read_photo",
]
