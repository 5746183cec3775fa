"""What counts as steady running, warm, and alight: the settings, as bike.toml's ``[steady]`` may change them.

Common practice where no reason is given.
"""

from typing import Annotated, Self

from pydantic import Field, model_validator

from bridge.model.base import FileModel

Seconds = Annotated[float, Field(ge=0, le=60)]
Percent = Annotated[float, Field(ge=0, le=100)]
Rpm = Annotated[float, Field(ge=0, le=25_000)]
Celsius = Annotated[float, Field(ge=-60, le=1_300)]
Lambda = Annotated[float, Field(ge=0.4, le=10)]


class SteadySettings(FileModel):
    """The limits between the states of a run; every key may be left out."""

    settle_s: Seconds = 0.8
    """Throttle and speed must have been settled for so long [s]: half a second for fuel on the port's wall and three
    of the sensor's lags of 0.1 s, after which 5 % of the old mixture is left in its reading. Where the ride shows
    a slower sensor, three times what it is slower by comes on top."""
    ahead_s: Seconds = 0.1
    """... and stay so until the reading that shows the charge was taken, and this much longer [s]: an opening
    flushes the pipe, and what burned since is in the reading already; the delay is known to some 0.05 s."""
    throttle_percent: Percent = 5.0
    """The opening's range within that time is at most this [%]: noise and a hand's tremble, no movement."""
    moving_percent: Percent = 2.0
    """A throttle that is not settled and changed by more than this within ``quick_s`` is opening or closing [%];
    one that changes slower is settling."""
    rpm_per_s: Annotated[float, Field(gt=0, le=100_000)] = 2000.0
    """Speed may change this fast, since it does at full throttle [1/min per s]. An error of the
    delay of 0.05 s then moves a reading by 100 rpm, a fifth of a default band."""
    quick_s: Annotated[float, Field(gt=0, le=10)] = 0.2
    """... over so short a time [s]: a chop or a change of gear shows at once, a speed that trembles
    by 200 rpm passes."""
    overrun_throttle_percent: Percent = 3.0
    """The throttle counts as shut up to here [%] ..."""
    overrun_rpm: Rpm = 2500.0
    """... and with it shut, an engine this fast is driven by the wheel [1/min]; a slower one idles."""
    cut_s: Seconds = 1.0
    """An open engine that loses ``rpm_per_s`` for so long [s] has its spark cut; a change of gear is over by
    then."""
    stopped_rpm: Rpm = 400.0
    """Below this the engine does not run by itself [1/min]."""
    lambda_low: Lambda = 0.6
    """Readings below are off range: no petrol charge this rich fires [1]."""
    lambda_high: Lambda = 1.7
    """Readings above are off range: no homogeneous charge this lean fires, so this is air in the pipe [1]."""
    air_s: Seconds = 0.6
    """Readings within so long of air in the pipe (off range lean, or an overrun's end) are on their way there or back
    and not counted [s]: six of the sensor's lags of 0.1 s. Where the ride shows a slower sensor, six times what
    it is slower by comes on top."""
    cold_head_c: Celsius = 50.0
    """Under this cylinder head temperature the engine is cold [Cel]: fuel stays on the walls. Air-cooled heads run
    over 100."""
    cold_coolant_c: Celsius = 40.0
    """... or under this coolant temperature [Cel]: racing two-strokes run from 50 on."""
    cold_exhaust_c: Celsius = 150.0
    """... or, where neither of the two is recorded, under this exhaust-gas temperature [Cel]: an engine that has
    run for half a minute idles above it."""
    cold_s: Annotated[float, Field(ge=0, le=1_800)] = 0.0
    """Where no temperature is recorded: so long after its first turn the engine is cold [s]. Nothing by itself,
    since a log may begin in the middle of a ride."""
    misfire_lambda: Annotated[float, Field(gt=0, le=1)] = 0.06
    """A lean spike at steady throttle of at least this [1], and of six times the usual scatter, may be a charge that
    did not burn ..."""
    misfire_alone_lambda: Annotated[float, Field(gt=0, le=1)] = 0.2
    """... by itself if it is at least this [1], as no carburettor changes so at steady throttle ..."""
    misfire_rpm_share: Annotated[float, Field(gt=0, lt=1)] = 0.03
    """... or if within ``misfire_s`` of it the speed stumbles by this share [1] ..."""
    misfire_egt_c: Annotated[float, Field(gt=0, le=500)] = 12.0
    """... or the exhaust gas cools by this much [K]: scatter of the sensor does neither."""
    misfire_s: Annotated[float, Field(gt=0, le=10)] = 1.0
    """How far from the spike the other sign may stand, and what is left out on both sides of it [s]."""

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.lambda_low >= self.lambda_high:
            raise ValueError(
                f"lambda_low ({self.lambda_low:g}) must be below lambda_high ({self.lambda_high:g})"
            )
        if self.stopped_rpm >= self.overrun_rpm:
            raise ValueError(
                f"stopped_rpm ({self.stopped_rpm:g}) must be below overrun_rpm ({self.overrun_rpm:g})"
            )
        return self
