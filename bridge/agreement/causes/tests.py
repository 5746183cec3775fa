"""The tests that settle causes, and how likely each outcome is under each cause. All is common practice or assumed."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Test:
    """A test with two outcomes.

    Attributes:
        name: what it is called.
        how: what to do, a sentence without full stop.
        yes: the outcome that speaks for the causes named in ``shares``.
        no: the other one.
        shares: probability of ``yes`` under each cause [1].
        otherwise: under any other cause [1].
        needs: what the bike must have: ``sensors`` (one in each of several pipes) or ``collector``.
        caution: what has to stand beside it; None where nothing can hurt anybody.
        rides: the engine is ridden for it, so that it is none while a plug or the mixture says stop.
    """

    __test__ = False  # no test of pytest's

    name: str
    how: str
    yes: str
    no: str
    shares: Mapping[str, float] = field(default_factory=dict)
    otherwise: float = 0.05
    needs: str | None = None
    caution: str | None = None
    rides: bool = False


_RIDE = (
    "Full throttle on a mixture that nobody is sure of can break an engine: only where it is safe and allowed, richer"
    " rather than leaner, and stop at knock, rising temperature or a speck of aluminium; let head and plugs cool, with"
    " the ignition off, before you touch them."
)
_PLUG = "Let the head cool and keep the ignition off: head and plugs burn, and a live lead gives a dangerous shock."
_PIPE = "The exhaust burns long after the engine stopped: let it cool, and do not blow more than a little air into it."
_SENSOR = (
    "A working sensor is hot enough to light fuel: let the pipe cool before you take it out, and hold it in clean air"
    " away from fuel."
)
_GAS = (
    "The engine runs while you measure, and carbon monoxide kills unnoticed: outdoors only or with the exhaust led"
    " outdoors, a carbon monoxide alarm beside you; pipe and probe burn."
)
_FUEL = (
    "Fuel and its vapour catch fire, and methanol goes through the skin: engine cold, ignition off, no flame, in the"
    " open."
)
_AIR = "Compressed air turns the engine: no gear, nobody's hand on wheel, chain or crank."


TESTS: Mapping[str, Test] = {
    "new plugs": Test(
        "new plugs",
        "fit new plugs of the usual heat range and read them after a clean chop",
        "the difference is gone",
        "the difference is there again",
        {
            "old or fouled plug": 0.93,
            "reading error of the person": 0.90,
            "wrong heat range": 0.90,
            "coloured on the way in": 0.85,
            "too few seconds at full throttle": 0.45,
            "misfire": 0.35,
            "oil in the chamber": 0.30,
            "ignition weak": 0.12,
            "not known": 0.35,
        },
        caution=_RIDE,
        rides=True,
    ),
    "clean chop": Test(
        "clean chop",
        "ride again, cut the ignition at full throttle with the clutch in, push it back, and read the plugs",
        "the difference is gone",
        "the difference is there again",
        {
            "coloured on the way in": 0.93,
            "reading error of the person": 0.85,
            "too few seconds at full throttle": 0.45,
            "not known": 0.3,
        },
        caution=_RIDE,
        rides=True,
    ),
    "long run": Test(
        "long run",
        "hold full throttle for 20 s or more on new plugs where it is safe, cut cleanly, and read them",
        "the difference is gone",
        "the difference is there again",
        {
            "too few seconds at full throttle": 0.93,
            "reading error of the person": 0.85,
            "old or fouled plug": 0.90,
            "coloured on the way in": 0.80,
            "not known": 0.3,
        },
        caution=_RIDE,
        rides=True,
    ),
    "heat range": Test(
        "heat range",
        "read the heat range stamped on the plug and compare it with the usual one",
        "it is another one",
        "it is the usual one",
        {"wrong heat range": 0.96},
        otherwise=0.02,
        caution=_PLUG,
    ),
    "leak check": Test(
        "leak check",
        "press a little air into the cold exhaust and soap every joint from the port to past the sensor",
        "bubbles before the sensor",
        "tight",
        {"air leak before the sensor": 0.92, "not known": 0.1},
        otherwise=0.04,
        caution=_PIPE,
    ),
    "new spark plug": Test(
        "a new plug alone",
        "fit one new plug in that cylinder, change nothing else, and ride the same full throttle again",
        "the misfire is gone",
        "it goes on, or there was none",
        {"misfire": 0.80, "old or fouled plug": 0.5, "ignition weak": 0.12, "not known": 0.15},
        otherwise=0.08,
        caution=_RIDE,
        rides=True,
    ),
    "coil": Test(
        "coil and lead",
        "swap coil, cap and lead with another cylinder's or for good ones, and ride the same full throttle again",
        "the misfire is gone or goes with the part",
        "nothing changes",
        {"ignition weak": 0.92, "misfire": 0.15, "not known": 0.1},
        otherwise=0.03,
        caution=_RIDE,
        rides=True,
    ),
    "swap the sensors": Test(
        "swap the sensors",
        "swap the oxygen sensors between the cylinders and fit new plugs",
        "the difference goes with the sensor",
        "the difference stays with the cylinder, or is gone",
        {"aged sensor": 0.94, "not known": 0.15},
        otherwise=0.04,
        needs="sensors",
        caution=_RIDE,
        rides=True,
    ),
    "free air": Test(
        "free-air check",
        "hold the warm sensor in free air and write down what it says",
        "it says less oxygen than is there",
        "it says what is there",
        {"aged sensor": 0.90, "not known": 0.1},
        otherwise=0.04,
        caution=_SENSOR,
    ),
    "gas analysis": Test(
        "exhaust-gas analysis",
        "take an exhaust-gas analysis at the same full throttle, unburnt fuel counted, with the probe deep in the pipe",
        "it sides with the ring",
        "it sides with the sensor",
        {
            "short-circuited charge": 0.88,
            "wrong fuel told to the sensor": 0.95,
            "aged sensor": 0.92,
            "misfire": 0.6,
            "ignition weak": 0.6,
            "air leak before the sensor": 0.45,
            "collector averaging its cylinders": 0.5,
            "blocked or loose jet": 0.5,
            "fuel level": 0.5,
            "not known": 0.5,
        },
        otherwise=0.07,
        caution=_GAS,
    ),
    "one by one": Test(
        "one pipe after the other",
        "put the sensor into each cylinder's own pipe in turn, or compare the exhaust-gas temperatures",
        "the cylinders differ as their rings do",
        "the cylinders are alike",
        {
            "collector averaging its cylinders": 0.94,
            "blocked or loose jet": 0.90,
            "fuel level": 0.88,
            "not known": 0.3,
        },
        otherwise=0.06,
        needs="collector",
        caution=_RIDE,
        rides=True,
    ),
    "fuel": Test(
        "the fuel told",
        "compare what is in the tank with the fuel that sensor, map and set-up were told",
        "they differ",
        "they are the same",
        {"wrong fuel told to the sensor": 0.95, "not known": 0.06},
        otherwise=0.03,
        caution=_FUEL,
    ),
    "new build": Test(
        "a new scale",
        "write down what was changed in the engine (bike rebuilt), and let three pairs start a new ring scale",
        "by the new scale ring and sensor agree again",
        "they go on differing",
        {"engine rebuilt": 0.93, "wrong heat range": 0.5, "not known": 0.3},
        otherwise=0.1,
    ),
    "jet": Test(
        "main jet",
        "take the main jet out: look through it, and whether it was tight",
        "it was blocked or loose",
        "it was clear and tight",
        {"blocked or loose jet": 0.93, "not known": 0.04},
        otherwise=0.02,
        caution=_FUEL,
    ),
    "fuel level": Test(
        "fuel level",
        "measure the fuel level, and look at float and needle valve",
        "it is off",
        "it is right",
        {"fuel level": 0.93, "blocked or loose jet": 0.06, "not known": 0.06},
        otherwise=0.03,
        caution=_FUEL,
    ),
    "leak-down": Test(
        "leak-down",
        "measure the cylinder's leak-down, and look for oil at plug, guides and seals",
        "there is oil, or it leaks",
        "it is dry and tight",
        {"oil in the chamber": 0.92, "engine rebuilt": 0.12, "not known": 0.12},
        caution=_AIR,
    ),
    "second look": Test(
        "second look",
        "let another person read the same plug, with the shell cut away",
        "the depth is another one",
        "the depth is the same",
        {"reading error of the person": 0.92, "not known": 0.08},
        otherwise=0.05,
        caution=_PLUG,
    ),
}
