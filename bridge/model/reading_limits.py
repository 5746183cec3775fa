"""What a plug's reading needs to count: the limits of the rules, as bike.toml's ``[reading]`` may change them.

All of them are common practice, without a published source. Where a key has a ``_sure`` beside it, what lies between
the two is doubtful.
"""

from typing import Annotated

from pydantic import Field

from bridge.model.base import FileModel

Seconds = Annotated[float, Field(ge=0, le=3_600)]
Share = Annotated[float, Field(gt=0, le=1)]
Celsius = Annotated[float, Field(ge=-60, le=500)]


class ReadingLimits(FileModel):
    """The limits of the rules; every key may be left out."""

    memory_s: Annotated[float, Field(ge=1, le=3_600)] = 60.0
    """A second of steady full throttle counts exp(-age / memory_s) for the measured mixture that a ring is held
    against, age in running time before the cut [s]."""

    full_throttle_s: Seconds = 5.0
    """With less full throttle than this on the plug its nose shows nothing yet [s]."""
    full_throttle_sure_s: Seconds = 10.0
    """... and from here on it surely does [s]."""
    last_minute_s: Seconds = 2.0
    """With less of it than this in the last minute before the cut the nose shows other running [s]."""
    last_minute_sure_s: Seconds = 5.0
    """... and from here on it shows full throttle [s]."""
    gap_s: Seconds = 10.0
    """Running of any kind from the last full throttle to the cut beyond this colours the nose [s]."""
    gap_sure_s: Seconds = 5.0
    """... and up to here it does not [s]."""
    idle_s: Seconds = 5.0
    """Idling in that time beyond this colours the nose, since the pilot circuit is rich and the nose cools [s]."""
    idle_sure_s: Seconds = 1.0
    """... and up to here it does not [s]."""
    clean_cut_s: Seconds = 1.0
    """A cut within so long of full throttle is a clean one [s]."""
    no_ring_s: Seconds = 20.0
    """Full throttle before "no ring" means lean and not "too short" [s]: the nose takes some 15 to 25 s to come to
    its heat (a model's figure, not validated), and the carbon is laid down on top of that."""
    cold_s: Seconds = 60.0
    """A plug that ran longer than this in a cold engine may have its soot from there [s]. What is cold says
    ``[steady]``."""
    cold_full_s: Seconds = 1.0
    """... and so may one that saw more full throttle than this while it was cold [s]."""
    head_c: Celsius = 100.0
    """A cylinder head that did not come to this before the cut ran cooler than it does when raced [Cel]."""
    coolant_c: Celsius = 50.0
    """... or, where the coolant is recorded, coolant that did not come to this [Cel]."""
    misfire_s: Seconds = 1.0
    """More full throttle than this that may be misfire is doubtful [s]."""
    misfire_share: Share = 0.5
    """... and beyond this share of all full throttle the nose shows the misfire [1]."""
