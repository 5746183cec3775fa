"""What a plug lived through, whether its reading is valid, and what its ring stands for."""

from bridge.plug.exposure import Measured, measured
from bridge.plug.lived import Lived, live_through
from bridge.plug.scale import LinearScale, RingLambda, RingScale, ring_lambda, scale_for
from bridge.plug.validity import Validity, judge

__all__ = [
    "LinearScale",
    "Lived",
    "Measured",
    "RingLambda",
    "RingScale",
    "Validity",
    "judge",
    "live_through",
    "measured",
    "ring_lambda",
    "scale_for",
]
