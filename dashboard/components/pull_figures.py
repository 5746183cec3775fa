"""From what the bridge says of pulls to their drawings, each for a desk and for a phone."""

from collections.abc import Callable, Sequence

import numpy as np
import polars as pl
from dash import html
from dash.development.base_component import Component

from bridge.pulls import Pull, Pulls
from bridge.pulls.best import Best
from bridge.pulls.compare import Comparison, Entry
from bridge.pulls.mixture import Mixture
from bridge.pulls.words import correction_words, peak_doubt
from dashboard.components.parts import drawing
from dashboard.figures.pull_best import Fitted, Tried, pull_best_svg
from dashboard.figures.pull_chart import NARROW, WIDE, Floats, Lane
from dashboard.figures.pull_mixture import pull_mixture_svg
from dashboard.figures.pull_overlay import Gain, Group, pull_overlay_svg
from dashboard.figures.pull_power import Curve, Off, pull_power_svg
from dashboard.figures.pull_trace import Part, pull_trace_svg
from dashboard.pulls_data import PullsPicture


def _both(draw: Callable[[float], str]) -> Component:
    """Return a drawing for a desk and one for a phone; the style sheet shows the one that fits."""
    return html.Div(
        [
            drawing(draw(WIDE), className="pull-wide"),
            drawing(draw(NARROW), className="pull-narrow"),
        ],
        className="pull-figure",
    )


def on_trace(picture: PullsPicture) -> Component | None:
    """Return the strip of a session with its pulls, and what else full throttle was."""
    series = {one.name: (one.t_s, one.value) for one in picture.series}
    if "rpm" not in series:
        return None
    found = picture.found
    numbers = {pull.piece: pull.number for pull in found.pulls}
    parts = [
        Part(numbers.get(piece), piece.kind, piece.start_s, piece.end_s) for piece in found.findings.pieces
    ]
    return _both(lambda width: pull_trace_svg(series["rpm"], series.get("throttle"), parts, width=width))


def along_pull(found: Pulls, number: int) -> Component | None:
    """Return power with its ribbon of one pull, or where no power is known its mixture; None where neither is."""
    pull = next((one for one in found.pulls if one.number == number), None)
    if pull is None:
        return None
    if np.isfinite(_column(pull.curve, "power_kw")).sum() < 2:
        return _mixture_alone(found, pull)
    curves = [_curve(one) for one in found.pulls]
    shown = next(curve for one, curve in zip(found.pulls, curves, strict=True) if one is pull)
    others = [one for one in curves if one is not shown]
    said = figure_words(found, pull)
    held = [(one.rpm, one.power_kw) for one in found.holds if one.power_kw is not None]
    return _both(lambda width: pull_power_svg(shown, others, said, held=held, width=width))


def figure_words(found: Pulls, pull: Pull) -> list[str]:
    """Return what stands on the figure itself: correction, place, window, noise and bias."""
    by, along = pull.corrected.by, pull.along
    words = []
    if by is not None:
        flagged = "" if by.valid else ", OUTSIDE ITS LIMITS"
        words.append(f"Corrected by {by.name} to {by.reference}, factor {by.factor:.4f}{flagged}.")
    else:
        because = f": {pull.corrected.because}" if pull.corrected.because else ""
        words.append(f"As measured, not corrected{because}.")
    if along is not None:
        words.append(
            f"Power at the {along.at}, differentiated once over {found.settings.window_s:g} s ({along.points}"
            f" points); {_noise(pull)}"
        )
    return words


def _noise(pull: Pull) -> str:
    """Return noise and bias of the filter in words."""
    sd, bias = peak_doubt(pull), _column(pull.curve, "power_bias_kw")
    noise = "its noise is not known"
    if sd is not None:
        noise = f"noise left by it \N{PLUS-MINUS SIGN}{1.96 * sd:.2f} kW (95 %, the bar at the top)"
    if not np.isfinite(bias).any():
        return f"{noise}; its bias cannot be told."
    worst = float(bias[np.nanargmax(np.abs(bias))])
    told = f"{worst:+.2f}".replace("-", "\N{MINUS SIGN}")
    return f"{noise}; bias of the window {told} kW where it is greatest."


def _column(frame: pl.DataFrame, name: str) -> Floats:
    """Return a column as numbers; nan where it is empty or missing."""
    if name not in frame.columns:
        return np.full(frame.height, np.nan)
    return frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy()


def _whose(one: Mixture) -> str:
    return "the engine" if one.cylinder is None else f"cylinder {one.cylinder}"


def _lanes(pull: Pull) -> tuple[Lane, ...]:
    return tuple(Lane(_whose(one), one.by_rpm, one.low, one.high) for one in pull.mixture)


def _curve(pull: Pull) -> Curve:
    frame = pull.curve
    egts = [name for name in frame.columns if name == "egt" or name.startswith("egt_")]
    off = tuple(
        Off(
            one.rpm_from,
            one.rpm_to,
            one.direction,
            one.surely,
            "the engine" if one.cylinder is None else f"cylinder {one.cylinder}",
        )
        for one in pull.leaves
    )
    return Curve(
        f"pull {pull.number}",
        _column(frame, "rpm"),
        _column(frame, "power_kw"),
        _column(frame, "torque_nm"),
        _column(frame, "power_sd_kw"),
        _lanes(pull),
        {name.replace("egt", "EGT").replace("_", " "): _column(frame, name) for name in egts},
        off,
    )


def _mixture_alone(found: Pulls, pull: Pull) -> Component | None:
    lanes = _lanes(pull)
    if not any(np.isfinite(lane.mean).any() for lane in lanes) or pull.curve.height < 2:
        return None
    rpm = _column(pull.curve, "rpm")
    name = f"pull {pull.number}"
    return _both(lambda width: pull_mixture_svg(name, rpm, lanes, found.target, width=width))


def overlay(found: Comparison) -> Component:
    """Return the groups on one rpm axis with the gain below."""
    frame = found.curve
    column = "power_kw" if found.corrected_by else "power_measured_kw"
    groups = [_group(found, side, column) for side in ("before", "after")]
    gain = Gain(*(_column(frame, f"gain_percent{end}") for end in ("", "_low", "_high")))
    said = [
        correction_words(found.corrected_by),
        "Ground and thin lines: 95 % of the mean, and single runs. Lambda: of all cylinders, laid back by geometry.",
    ]
    rpm = _column(frame, "rpm")
    return _both(lambda width: pull_overlay_svg(rpm, groups, gain, said, width=width))


def _group(found: Comparison, side: str, column: str) -> Group:
    mean, low, high = (_column(found.curve, f"{side}_kw{end}") for end in ("", "_low", "_high"))
    kept = [one for one in found.entries if one.side == side and one.left_out is None]
    runs = tuple(
        (
            f"session {one.session}, pull {one.pull.number}",
            _column(one.pull.curve, "rpm"),
            _column(one.pull.curve, column),
        )
        for one in kept
    )
    return Group(side, mean, low, high, runs, _mixture(kept, _column(found.curve, "rpm")))


def _mixture(kept: Sequence[Entry], rpm: Floats) -> Floats:
    """Return the mean lambda of some runs at common speeds; nan where not every one of them has it."""
    of_runs = []
    for one in kept:
        known = (
            one.pull.curve.select("rpm", "lambda").drop_nulls()
            if "lambda" in one.pull.curve.columns
            else None
        )
        if known is None or known.height < 2:
            return np.full(len(rpm), np.nan)
        of_runs.append(
            np.interp(rpm, known["rpm"].to_numpy(), known["lambda"].to_numpy(), left=np.nan, right=np.nan)
        )
    return np.mean(of_runs, axis=0) if of_runs else np.full(len(rpm), np.nan)


def best_curve(found: Best) -> Component | None:
    """Return power against mixture."""
    tried = [Tried(p.session, p.pull, p.lambda_, p.power_kw) for p in found.points if p.left_out is None]
    if not tried:
        return None
    top = found.top
    fitted = None
    if top is not None:
        flat = None if found.flat_from is None or found.flat_to is None else (found.flat_from, found.flat_to)
        told = found.low is not None or found.high is not None
        edge = (top.edge or "high") if found.at_edge and told else None
        fitted = Fitted(top.x, top.y, found.best_lambda, found.low, found.high, flat, edge)
    said = [correction_words(found.corrected_by), _best_words(fitted)]
    return _both(lambda width: pull_best_svg(found.rpm, tried, fitted, said, width=width))


def _best_words(fitted: Fitted | None) -> str:
    words = "Each circle is a pull, with its session's number."
    if fitted is None:
        return f"{words} Too few for a curve."
    return words if fitted.bounded is None else f"{words} Tinted: 95 % of where the best lies."


def shown_first(pulls: Sequence[Pull]) -> int | None:
    """Return the number of the pull that is looked at first: one that a chop followed, else the strongest."""
    if not pulls:
        return None
    chopped = [pull.number for pull in pulls if pull.chop_s is not None]
    strongest = max(pulls, key=lambda pull: (pull.peak or (0.0, 0.0))[0])
    return chopped[-1] if chopped else strongest.number
