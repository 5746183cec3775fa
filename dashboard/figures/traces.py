"""The traces over time, as a plotly figure of plain dictionaries: panel under panel, one time axis."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np

from bridge.channels import find, label
from bridge.model import Mark
from dashboard.figures.reduce import Series
from dashboard.figures.states import Stretch, shade_trace, strip_traces, within
from dashboard.theme import PALETTES, Scheme, trace_colour

Figure = dict[str, Any]

PANEL_PX, GAP_PX, TOP_PX, BOTTOM_PX = 118, 34, 44, 46
STRIP_PX = 15
"""Height of the strip of states above the panels, where there are states."""
LAMBDA_SHOWN = (0.6, 1.3)
"""What the lambda panel shows at most; fresh air after a cut would press the rest flat [1]."""
_ORDER = ("lambda", "throttle", "rpm", "egt", "cht", "coolant_temp", "speed", "torque", "roller_rpm")
_UNITS = {"1": "", "Cel": "°C", "/min": "rev/min", "N.m": "N m"}


@dataclass(frozen=True)
class Panel:
    """Channels that share an axis.

    Attributes:
        title: with the unit.
        role: colour role in the theme.
        names: its channels, cylinder one first.
    """

    title: str
    role: str
    names: tuple[str, ...]


def panels(names: Sequence[str]) -> list[Panel]:
    """Return the panels that a session's channels need: mixture first, then what governs it, the rest."""
    groups: dict[str, list[str]] = {}
    for name in sorted(names, key=_in_order):
        found = find(name)
        groups.setdefault(found[0].name if found else name, []).append(name)
    return [_panel(base, tuple(members)) for base, members in groups.items()]


def _in_order(name: str) -> tuple[int, str, int]:
    found = find(name)
    base = found[0].name if found else name
    place = _ORDER.index(base) if base in _ORDER else len(_ORDER)
    return place, base, (found[1] or 0) if found else 0


def _panel(base: str, names: tuple[str, ...]) -> Panel:
    found = find(names[0])
    if found is None:
        return Panel(base, "other", names)
    channel = found[0]
    unit = _UNITS.get(channel.unit, channel.unit)
    return Panel(f"{channel.label}, {unit}" if unit else channel.label, channel.role, names)


def traces_figure(
    series: Sequence[Series],
    marks: Sequence[Mark],
    scheme: Scheme,
    window: tuple[float, float] | None,
    states: Sequence[Stretch] = (),
) -> Figure:
    """Return the whole figure.

    Args:
        series: thinned channels.
        marks: moments that were marked.
        scheme: light or dark.
        window: seconds from and to that the axis shows; None for all.
        states: what each moment was; a strip above the panels, and a pale ground where it was not steady.
    """
    by_name = {one.name: one for one in series}
    rows = panels(list(by_name))
    head = STRIP_PX + GAP_PX if states else 0
    height = figure_height(len(rows)) + head
    inner = max(height - TOP_PX - BOTTOM_PX, 1)
    layout = _layout(height, scheme, window)
    data = _states(layout, within(states, window), scheme, STRIP_PX / inner) if states else []
    for number, panel in enumerate(rows):
        suffix = "" if number == 0 else str(number + 1)
        top = 1.0 - (head + number * (PANEL_PX + GAP_PX)) / inner
        bottom = max(top - PANEL_PX / inner, 0.0)
        axis = layout[f"yaxis{suffix}"] = _y_axis(scheme, (bottom, top))
        if panel.role == "mixture":
            axis["range"] = _lambda_range([by_name[name] for name in panel.names])
            layout["annotations"] += _ends(bottom, top, scheme)
        layout["annotations"].append(_heading(_named(panel, scheme), top, scheme))
        for place, name in enumerate(panel.names):
            data.append(_trace(by_name[name], panel, place, suffix, scheme))
    _mark(layout, marks, scheme, _span(series, window))
    return {"data": data, "layout": layout}


_STRIP, _SHADE = 90, 91
"""Numbers of the two axes of the states, out of the panels' way."""


def _states(layout: Figure, states: Sequence[Stretch], scheme: Scheme, share: float) -> list[Figure]:
    """Lay the strip of states and the ground behind the panels into the figure."""
    bare: Figure = {"anchor": "x", "range": [0, 1], "fixedrange": True, "visible": False}
    layout[f"yaxis{_STRIP}"] = {**bare, "domain": (1.0 - share, 1.0)}
    layout[f"yaxis{_SHADE}"] = {**bare, "domain": (0.0, 1.0)}
    layout["annotations"].append(_heading("State", 1.0, scheme))
    return [*shade_trace(states, f"y{_SHADE}", scheme), *strip_traces(states, f"y{_STRIP}", scheme)]


def _ends(bottom: float, top: float, scheme: Scheme) -> list[Figure]:
    """What the ends of the lambda panel are."""
    return [
        {
            **_heading(words, y, scheme),
            "x": 1,
            "xanchor": "right",
            "yanchor": anchor,
            "font": {"color": PALETTES[scheme]["quiet"], "size": 12},
        }
        for words, y, anchor in (("lean", top, "bottom"), ("rich", bottom, "top"))
    ]


def figure_height(count: int) -> int:
    """Return the height of a figure of so many panels [px]."""
    return TOP_PX + BOTTOM_PX + max(count, 1) * PANEL_PX + (max(count, 1) - 1) * GAP_PX


def _trace(one: Series, panel: Panel, place: int, suffix: str, scheme: Scheme) -> Figure:
    found = find(one.name)
    decimals = found[0].decimals if found else 3
    return {
        "type": "scatter",
        "mode": "lines",
        "name": label(one.name),
        "x": one.t_s,
        "y": one.value,
        "xaxis": "x",
        "yaxis": f"y{suffix}",
        "connectgaps": False,
        "showlegend": False,
        "hovertemplate": f"%{{y:.{decimals}f}}",
        "line": {"color": trace_colour(scheme, panel.role, place), "width": 1.2, "dash": _dash(place)},
    }


def _named(panel: Panel, scheme: Scheme) -> str:
    """Return the panel's title, with its cylinders named in their colours where there is more than one."""
    title = escape(panel.title)
    if len(panel.names) < 2:
        return title
    words = [
        f'<span style="color:{trace_colour(scheme, panel.role, place)}">— {_short(name)}</span>'
        for place, name in enumerate(panel.names)
    ]
    return f"{title}   {'   '.join(words)}"


def _short(name: str) -> str:
    found = find(name)
    return f"cylinder {found[1]}" if found and found[1] else "engine"


def _dash(place: int) -> str:
    """The first two of a panel differ by blue and tan, which every eye tells apart; the rest by dashes."""
    return ("solid", "solid", "dash", "dot")[place % 4]


def _y_axis(scheme: Scheme, domain: tuple[float, float]) -> Figure:
    colours = PALETTES[scheme]
    return {
        "domain": domain,
        "anchor": "x",
        "fixedrange": True,
        "nticks": 5,
        "gridcolor": colours["hair"],
        "zeroline": False,
        "tickfont": {"color": colours["quiet"]},
    }


def _lambda_range(series: Sequence[Series]) -> list[float]:
    """Return the lambda axis' range: all of it, or what of it lies within `LAMBDA_SHOWN`."""
    values = np.concatenate([one.value for one in series])
    low, high = np.nanmin(values), np.nanmax(values)
    return [float(max(low - 0.02, LAMBDA_SHOWN[0])), float(min(high + 0.02, LAMBDA_SHOWN[1]))]


def _heading(title: str, top: float, scheme: Scheme) -> Figure:
    return {
        "text": title,
        "xref": "paper",
        "yref": "paper",
        "x": 0,
        "y": top,
        "xanchor": "left",
        "yanchor": "bottom",
        "showarrow": False,
        "font": {"color": PALETTES[scheme]["ink"], "size": 14},
    }


def _layout(height: int, scheme: Scheme, window: tuple[float, float] | None) -> Figure:
    colours = PALETTES[scheme]
    axis: Figure = {
        "anchor": "free",
        "position": 0,
        "title": {"text": "seconds of the session", "font": {"color": colours["quiet"], "size": 13}},
        "gridcolor": colours["hair"],
        "zeroline": False,
        "tickfont": {"color": colours["quiet"]},
        "showspikes": True,
        "spikemode": "across",
        "spikethickness": 1,
        "spikedash": "solid",
        "spikecolor": colours["line"],
    }
    if window is not None:
        axis["range"] = list(window)
    return {
        "height": height,
        "margin": {"l": 46, "r": 10, "t": TOP_PX, "b": BOTTOM_PX, "pad": 2},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"family": "'Sootline Serif', Georgia, 'Liberation Serif', serif", "size": 12},
        "hovermode": "x unified",
        "hoversubplots": "axis",
        "hoverlabel": {
            "bgcolor": colours["tint"],
            "bordercolor": colours["line"],
            "font": {"color": colours["ink"]},
        },
        "dragmode": "zoom",
        "xaxis": axis,
        "annotations": [],
        "shapes": [],
    }


def _span(series: Sequence[Series], window: tuple[float, float] | None) -> float:
    """Return how many seconds the figure shows."""
    if window is not None:
        return window[1] - window[0]
    ends = [(one.t_s[0], one.t_s[-1]) for one in series]
    return float(max(end for _, end in ends) - min(start for start, _ in ends)) if ends else 1.0


def _mark(layout: Figure, marks: Sequence[Mark], scheme: Scheme, span_s: float) -> None:
    """Draw the marked moments as lines through all panels, named at the top where there is room."""
    colours = PALETTES[scheme]
    named_s = -math.inf
    for mark in sorted(marks, key=lambda mark: mark.t_s):
        layout["shapes"].append(
            {
                "type": "line",
                "xref": "x",
                "yref": "paper",
                "x0": mark.t_s,
                "x1": mark.t_s,
                "y0": 0,
                "y1": 1,
                "line": {
                    "color": colours["caution" if mark.what == "chop" else "quiet"],
                    "width": 1,
                    "dash": "dot",
                },
            }
        )
        if mark.t_s - named_s < 0.08 * span_s and mark.what != "chop":
            continue
        named_s = mark.t_s
        layout["annotations"].append(
            {
                "text": mark.what,
                "yshift": 17,
                "xref": "x",
                "yref": "paper",
                "x": mark.t_s,
                "y": 1,
                "xanchor": "right",
                "yanchor": "bottom",
                "showarrow": False,
                "font": {"color": colours["quiet"], "size": 11},
            }
        )
