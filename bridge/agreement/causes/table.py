"""The table of causes: one row each, with what it does to ring, sensor, mixture, temperatures, and over time.

Signs and patterns are physics (oxygen balance, the fin) or the trade's common practice; sizes, shares and weights are
assumed and wide on purpose. Nothing here is fitted on any data. A difference is ring less measured: over 0 the
ring is the leaner one.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Fools = Literal["sensor", "ring", "mixture", "average"]
"""What it works on: the sensor's reading, the ring, the mixture itself (both methods follow), or the average."""

NOT_KNOWN = "not known"

Levels = Mapping[str, float]
BASE: Mapping[str, Levels] = {
    "plug when fitted": {"new": 0.80, "cleaned": 0.17, "used": 0.03},
    "sessions on the plug": {"one": 0.85, "several": 0.15},
    "gap before the cut": {"pass": 0.88, "doubtful": 0.09, "fail": 0.03},
    "full throttle on the plug": {"pass": 0.90, "doubtful": 0.08, "fail": 0.02},
    "heat range": {"usual": 0.96, "colder": 0.02, "hotter": 0.02},
    "misfire at full throttle": {"none": 0.93, "some": 0.05, "much": 0.02},
    "wet": {"no": 0.96, "yes": 0.04},
    "soot specks": {"no": 0.92, "yes": 0.08},
    "oil": {"no": 0.97, "yes": 0.03},
    "glaze or blisters": {"no": 0.96, "yes": 0.04},
    "fuel told": {"as before": 0.96, "another": 0.04},
    "view": {"cut": 0.5, "magnifier": 0.5},
    "sensor's check": {"fresh": 0.5, "old": 0.5},
}
"""How often each of these is seen where no cause of it is at work; assumed."""


@dataclass(frozen=True)
class Reads:
    """How far the sensor's reading moves in a band, over its move at full throttle, and how unsure that is [1]."""

    factor: float
    spread: float


STILL = Reads(0.0, 0.0)


@dataclass(frozen=True)
class Cause:
    """One row.

    Attributes:
        name: the cause.
        fools: what it works on.
        leaner: probability that it makes the ring the leaner one; for a mixture, the mixture leaner [1].
        size: median of its size [lambda]; ``size_log_sd`` the standard deviation of its logarithm.
        weight: how often it is the trouble, over the other rows: on a four-stroke and on a two-stroke [1].
        idle: what the sensor reads at idle, over what it reads wrongly at full throttle.
        part: likewise at part throttle.
        one: probability that it is in one cylinder alone [1]; else it is in all.
        once, stays, grows: how it goes over the sessions: in this one alone, from some session on, or ever more.
        egt: what it does to the exhaust gas besides what the mixture does [K], and how unsure that is.
        head: likewise to the head [K].
        facts: how often what is told or seen beside goes with it; what stands in ``BASE`` where a row says nothing.
        predicts: the pattern in words, a clause.
        test: the test of ``tests.TESTS`` that settles it.
    """

    name: str
    fools: Fools
    leaner: float
    size: float
    weight: tuple[float, float]
    predicts: str
    test: str
    size_log_sd: float = 0.6
    idle: Reads = STILL
    part: Reads = STILL
    one: float = 0.7
    once: float = 0.3
    stays: float = 0.6
    grows: float = 0.1
    egt: tuple[float, float] = (0.0, 5.0)
    head: tuple[float, float] = (0.0, 3.0)
    facts: Mapping[str, Levels] = field(default_factory=dict)


CAUSES: tuple[Cause, ...] = (
    Cause(
        "old or fouled plug",
        "ring",
        0.15,
        0.06,
        (1.3, 1.4),
        "a plug that was coloured before keeps its colour, mostly darker, so that its ring looks richer; the sensor and"
        " the temperatures know nothing of it",
        "new plugs",
        one=0.7,
        once=0.75,
        stays=0.2,
        grows=0.05,
        facts={
            "plug when fitted": {"new": 0.38, "cleaned": 0.20, "used": 0.42},
            "sessions on the plug": {"one": 0.5, "several": 0.5},
            "misfire at full throttle": {"none": 0.75, "some": 0.18, "much": 0.07},
            "wet": {"no": 0.80, "yes": 0.20},
            "soot specks": {"no": 0.85, "yes": 0.15},
            "glaze or blisters": {"no": 0.85, "yes": 0.15},
        },
    ),
    Cause(
        "coloured on the way in",
        "ring",
        0.05,
        0.05,
        (0.7, 0.7),
        "idling or rolling in after the last full throttle lays soot on the nose, so that the ring looks richer; on all"
        " plugs of that session",
        "clean chop",
        one=0.2,
        once=0.85,
        stays=0.12,
        grows=0.03,
        facts={"gap before the cut": {"pass": 0.08, "doubtful": 0.22, "fail": 0.70}},
    ),
    Cause(
        "wrong heat range",
        "ring",
        0.5,
        0.05,
        (0.9, 0.9),
        "a colder nose keeps its carbon nearer the tip, as if richer, a hotter one deeper, as if leaner; the sensor and"
        " the exhaust gas do not change",
        "heat range",
        one=0.25,
        once=0.2,
        stays=0.77,
        grows=0.03,
        facts={"heat range": {"usual": 0.5, "colder": 0.25, "hotter": 0.25}},
    ),
    Cause(
        "too few seconds at full throttle",
        "ring",
        0.7,
        0.05,
        (0.6, 0.6),
        "the nose has not come to its heat or its carbon is not laid down yet: a faint ring or none, mostly as if"
        " leaner",
        "long run",
        one=0.1,
        once=0.85,
        stays=0.12,
        grows=0.03,
        facts={"full throttle on the plug": {"pass": 0.05, "doubtful": 0.30, "fail": 0.65}},
    ),
    Cause(
        "air leak before the sensor",
        "sensor",
        0.0,
        0.05,
        (1.2, 0.9),
        "air drawn in before the sensor makes it read lean, so that the ring is the richer one; worst at idle, less at"
        " part throttle, least at full, and the exhaust gas is as hot as ever",
        "leak check",
        idle=Reads(5.0, 4.0),
        part=Reads(1.8, 0.8),
        one=0.8,
        once=0.1,
        stays=0.6,
        grows=0.3,
    ),
    Cause(
        "misfire",
        "sensor",
        0.0,
        0.06,
        (0.9, 1.1),
        "charge that does not burn leaves its oxygen, so that the sensor reads lean while the nose is wet and sooted"
        " and looks richer; the exhaust gas is cooler",
        "new spark plug",
        one=0.8,
        once=0.3,
        stays=0.6,
        grows=0.1,
        egt=(-25.0, 25.0),
        head=(-2.0, 5.0),
        idle=Reads(0.0, 0.2),
        part=Reads(0.2, 0.3),
        facts={
            "misfire at full throttle": {"none": 0.30, "some": 0.28, "much": 0.42},
            "wet": {"no": 0.55, "yes": 0.45},
            "soot specks": {"no": 0.8, "yes": 0.2},
        },
    ),
    Cause(
        "short-circuited charge",
        "sensor",
        0.0,
        0.08,
        (0.15, 1.8),
        "fresh charge that goes straight into the pipe reads lean at the sensor, more so off the pipe's best speed; the"
        " ring and the exhaust gas are those of what burned",
        "gas analysis",
        idle=Reads(1.5, 0.9),
        part=Reads(1.5, 0.7),
        one=0.25,
        once=0.1,
        stays=0.8,
        grows=0.1,
    ),
    Cause(
        "collector averaging its cylinders",
        "average",
        0.5,
        0.04,
        (2.0, 2.0),
        "one sensor sees the average, so that a lean cylinder's ring is leaner than it says and a rich one's richer,"
        " and both together are not off",
        "one by one",
        once=0.25,
        stays=0.65,
        grows=0.1,
    ),
    Cause(
        "wrong fuel told to the sensor",
        "sensor",
        0.5,
        0.04,
        (0.9, 0.9),
        "an AFR that was reckoned for another fuel is off by one and the same ratio at idle, part and full throttle, in"
        " every cylinder, from one day on",
        "fuel",
        idle=Reads(1.05, 0.15),
        part=Reads(1.05, 0.12),
        one=0.02,
        once=0.2,
        stays=0.79,
        grows=0.01,
        facts={"fuel told": {"as before": 0.7, "another": 0.3}},
    ),
    Cause(
        "aged sensor",
        "sensor",
        0.1,
        0.03,
        (0.9, 1.1),
        "a worn sensor loses gain and reads too near to 1, so that a rich mixture looks leaner than it is; it comes"
        " slowly, in one sensor, and is least where the mixture is near 1",
        "free air",
        idle=Reads(0.65, 0.4),
        part=Reads(0.7, 0.35),
        one=0.85,
        once=0.05,
        stays=0.25,
        grows=0.7,
        facts={"sensor's check": {"fresh": 0.15, "old": 0.85}},
    ),
    Cause(
        "engine rebuilt",
        "ring",
        0.5,
        0.04,
        (0.6, 0.8),
        "another head, compression, pipe or port heats the nose otherwise, so that the same mixture prints its ring in"
        " another place, in every cylinder from that day on; the temperatures may move too",
        "new build",
        one=0.1,
        once=0.05,
        stays=0.93,
        grows=0.02,
        egt=(0.0, 12.0),
        head=(0.0, 6.0),
    ),
    Cause(
        "blocked or loose jet",
        "mixture",
        0.65,
        0.06,
        (0.9, 0.9),
        "the mixture itself goes lean (blocked) or rich (loose) at full throttle and not at idle, in one cylinder; its"
        " own sensor and its ring follow both, and one sensor for all sees only a share of it",
        "jet",
        idle=Reads(0.0, 0.05),
        part=Reads(0.3, 0.25),
        one=0.92,
        once=0.4,
        stays=0.55,
        grows=0.05,
    ),
    Cause(
        "fuel level",
        "mixture",
        0.5,
        0.04,
        (0.7, 0.7),
        "a float that sits wrong moves the mixture of its carburettor at idle, part and full throttle alike; its own"
        " sensor and its ring follow both",
        "fuel level",
        idle=Reads(1.0, 0.5),
        part=Reads(1.0, 0.4),
        one=0.8,
        once=0.2,
        stays=0.75,
        grows=0.05,
    ),
    Cause(
        "ignition weak",
        "sensor",
        0.0,
        0.05,
        (0.8, 0.9),
        "a weak spark fails under load first: the sensor reads lean at full throttle alone, the nose is wet, and"
        " the exhaust gas may be hotter from late burning or cooler from charge that missed",
        "coil",
        one=0.6,
        once=0.15,
        stays=0.65,
        grows=0.2,
        part=Reads(0.1, 0.15),
        egt=(0.0, 30.0),
        head=(-2.0, 5.0),
        facts={
            "misfire at full throttle": {"none": 0.35, "some": 0.38, "much": 0.27},
            "wet": {"no": 0.65, "yes": 0.35},
        },
    ),
    Cause(
        "oil in the chamber",
        "ring",
        0.05,
        0.06,
        (0.7, 0.6),
        "oil burns to a dark, wet deposit, so that the ring looks richer in that cylinder; the sensor hardly sees it",
        "leak-down",
        one=0.88,
        once=0.1,
        stays=0.6,
        grows=0.3,
        facts={
            "wet": {"no": 0.5, "yes": 0.5},
            "soot specks": {"no": 0.5, "yes": 0.5},
            "oil": {"no": 0.45, "yes": 0.55},
        },
    ),
    Cause(
        "reading error of the person",
        "ring",
        0.5,
        0.05,
        (0.8, 0.8),
        "a misread depth is of one plug in one session, either way, and nothing else knows of it",
        "second look",
        one=0.97,
        once=0.95,
        stays=0.04,
        grows=0.01,
        facts={"view": {"cut": 0.3, "magnifier": 0.7}},
    ),
)
"""All rows."""

UNKNOWN = Cause(
    NOT_KNOWN,
    "ring",
    0.5,
    0.05,
    (0.6, 0.6),
    "something that this table does not hold",
    "new plugs",
    size_log_sd=1.0,
    one=0.5,
    once=0.4,
    stays=0.4,
    grows=0.2,
    egt=(0.0, 40.0),
    head=(0.0, 15.0),
)
"""What is left: it predicts next to nothing, so that it leads where all rows are contradicted."""
LEAST_UNKNOWN = 0.02
"""The share that is never taken from it [1]; assumed."""
