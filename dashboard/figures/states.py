"""The states of a session along its time axis, told apart by texture and lightness."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from dashboard.theme import PALETTES, Scheme

COLUMNS = 700
"""Columns that a window is cut into where it holds more stretches than a screen can show."""


@dataclass(frozen=True)
class Stretch:
    """A piece of the session in one state.

    Attributes:
        from_s: its begin [s].
        to_s: its end [s].
        state: its name.
    """

    from_s: float
    to_s: float
    state: str


@dataclass(frozen=True)
class Look:
    """How a state is drawn.

    Attributes:
        name: of the look, in the page's CSS too.
        shape: of plotly's pattern; "" is solid, None is left blank.
        means: what the state is and what becomes of it, in a few words.
    """

    name: str
    shape: str | None
    means: str


LOOKS: Mapping[str, Look] = {
    "steady": Look("solid", "", "throttle and speed settled: it counts in the bands"),
    "idle": Look("dots", ".", "has its own band"),
    "overrun": Look("level", "-", "throttle shut and driven by the wheel: has its own band"),
    "opening": Look("rising", "/", "a step of the throttle is no jet calibration: left out"),
    "closing": Look("falling", "\\", "left out"),
    "settling": Look("upright", "|", "not settled for long enough yet: left out"),
    "cut": Look("blank", None, "ignition cut: left out"),
    "cold": Look("crossed", "x", "warming up, fuel stays on the walls: left out"),
    "not ready": Look("crossed", "x", "the sensor said that it was not ready: left out"),
    "off range": Look("crossed", "x", "no charge that burns reads so: left out"),
    "misfire suspected": Look("crossed", "x", "a misfire reads lean: left out"),
    "stopped": Look("blank", None, "the engine did not run"),
    "no reading": Look("crossed", "x", "left out"),
}
"""Every state of a moment; the order is that of the legend."""
_UNKNOWN = Look("crossed", "x", "left out")


def look_of(state: str) -> Look:
    """Return how a state is drawn; one that nobody told of here is drawn as left out."""
    return LOOKS.get(state, _UNKNOWN)


def stretches_of(samples: pl.DataFrame, longest_step_s: float = 1.0) -> tuple[Stretch, ...]:
    """Return the stretches of one state after another.

    Args:
        samples: ``t_s`` rising [s] and ``state``.
        longest_step_s: where two rows lie further apart nobody knows what was between [s].
    """
    if samples.is_empty():
        return ()
    step = pl.col("t_s").diff().fill_null(0.0)
    new = (pl.col("state") != pl.col("state").shift()).fill_null(value=True) | (step > longest_step_s)
    found = (
        samples.select("t_s", pl.col("state").cast(pl.String), number=new.cum_sum())
        .group_by("number", maintain_order=True)
        .agg(pl.col("t_s").first(), end=pl.col("t_s").last(), state=pl.col("state").first())
        .with_columns(after=pl.col("t_s").shift(-1))
        .with_columns(
            # the state holds until the next one begins, unless the log has a hole there
            to_s=pl.when(pl.col("after") - pl.col("end") <= longest_step_s)
            .then(pl.col("after"))
            .otherwise(pl.col("end"))
        )
    )
    return tuple(
        Stretch(from_s, to_s, state)
        for from_s, to_s, state in found.select("t_s", "to_s", "state").iter_rows()
    )


def within(stretches: Sequence[Stretch], window: tuple[float, float] | None) -> tuple[Stretch, ...]:
    """Return the stretches of a window, cut to it; very many are thinned to what a screen can show."""
    if not stretches:
        return ()
    low, high = window or (stretches[0].from_s, stretches[-1].to_s)
    inside = [
        Stretch(max(s.from_s, low), min(s.to_s, high), s.state)
        for s in stretches
        if s.to_s > low and s.from_s < high
    ]
    if len(inside) <= COLUMNS:
        return tuple(inside)
    starts = np.array([s.from_s for s in inside])
    edges = np.linspace(low, high, COLUMNS + 1)
    held = np.searchsorted(starts, (edges[:-1] + edges[1:]) / 2.0, side="right") - 1
    states = [inside[max(n, 0)].state for n in held.tolist()]
    first = [n for n, state in enumerate(states) if n == 0 or state != states[n - 1]]
    ends = [*first[1:], COLUMNS]
    return tuple(
        Stretch(float(edges[n]), float(edges[end]), states[n]) for n, end in zip(first, ends, strict=True)
    )


def strip_traces(stretches: Sequence[Stretch], axis: str, scheme: Scheme) -> list[dict[str, Any]]:
    """Return the strip along the time axis: one filled trace for each texture, and the words for the pointer.

    Args:
        stretches: of the window.
        axis: the strip's own y axis, from 0 to 1.
        scheme: light or dark.
    """
    colours = PALETTES[scheme]
    groups: dict[str, list[Stretch]] = {}
    for stretch in stretches:
        groups.setdefault(look_of(stretch.state).name, []).append(stretch)
    found = []
    for members in groups.values():
        look = look_of(members[0].state)
        if look.shape is None:
            continue
        fill: dict[str, Any] = {"fillcolor": colours["strip"]}
        if look.shape:
            fill = {
                "fillcolor": "rgba(0,0,0,0)",
                "fillpattern": {
                    "shape": look.shape,
                    "fgcolor": colours["quiet"],
                    "bgcolor": "rgba(0,0,0,0)",
                    "fillmode": "replace",
                    "size": 5,
                    "solidity": 0.35 if look.shape == "." else 0.22,
                },
            }
        found.append({**_boxes(members, axis), "fill": "toself", **fill})
    return [*found, _words(stretches, axis)] if stretches else []


def shade_trace(stretches: Sequence[Stretch], axis: str, scheme: Scheme) -> list[dict[str, Any]]:
    """Return a pale ground through all panels wherever the running does not count as steady."""
    members = [stretch for stretch in stretches if stretch.state != "steady"]
    if not members:
        return []
    return [{**_boxes(members, axis), "fill": "toself", "fillcolor": PALETTES[scheme]["shade"]}]


def _boxes(members: Sequence[Stretch], axis: str) -> dict[str, Any]:
    x: list[float | None] = []
    y: list[float | None] = []
    for one in members:
        x += [one.from_s, one.from_s, one.to_s, one.to_s, None]
        y += [0.0, 1.0, 1.0, 0.0, None]
    return {
        "type": "scatter",
        "mode": "lines",
        "x": x[:-1],
        "y": y[:-1],
        "xaxis": "x",
        "yaxis": axis,
        "line": {"width": 0},
        "hoverinfo": "skip",
        "showlegend": False,
    }


def _words(stretches: Sequence[Stretch], axis: str) -> dict[str, Any]:
    """What the pointer says: unseen points, close enough together that one is always near."""
    low, high = stretches[0].from_s, stretches[-1].to_s
    every = (high - low) / COLUMNS or 1.0
    places = [
        (at, one.state)
        for one in stretches
        for at in np.linspace(one.from_s, one.to_s, max(2, int((one.to_s - one.from_s) / every) + 1))[
            :-1
        ].tolist()
    ]
    return {
        "type": "scatter",
        "mode": "lines",  # not markers, for which the time axis would make room at its ends
        "name": "state",
        "x": [at for at, _ in places],
        "y": [0.5] * len(places),
        "text": [state for _, state in places],
        "xaxis": "x",
        "yaxis": axis,
        "line": {"width": 0, "color": "rgba(0,0,0,0)"},
        "hovertemplate": "%{text}",
        "showlegend": False,
    }
