"""All pulls of a session: what each shows of mixture, power and torque, and what it cannot show."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.align import Delay, Found, geometry_delay
from bridge.bands.running import delay_of
from bridge.errors import BadValue
from bridge.model import PullSettings, Run, carried_notes, weather_notes
from bridge.physics import dyno
from bridge.pulls.coast import Coasted, coasted
from bridge.pulls.conditions import Conditions, conditions
from bridge.pulls.corrected import STANDARDS, Corrected, check_standard, corrected
from bridge.pulls.course import Piece
from bridge.pulls.find import Findings, find
from bridge.pulls.grid import Grids, numbered, rpm_grid
from bridge.pulls.log import Log, Near, log_of
from bridge.pulls.mixture import Mixture, Rows, leaves_target, mixtures
from bridge.pulls.power import Along, Means, means_of, power_along
from bridge.pulls.result import Hold, Pull, Pulls, chop_after

Array = NDArray[np.float64]

_ONE_RUN_S = 2.0
"""Pulls so near together with a change of gear between them are one run through two gears [s]."""


def pulls_of(  # noqa: PLR0913  # what a person may ask for, each with a default
    run: Run,
    *,
    settings: PullSettings | None = None,
    standard: str = STANDARDS[0],
    anyway: bool = False,
    target: float | None = None,
    from_s: float | None = None,
    to_s: float | None = None,
    delay: Found | None = None,
    ask_ride: bool = True,
    add_loss: bool = False,
) -> Pulls:
    """Find and evaluate the pulls of a session.

    Args:
        run: the session; it needs ``rpm``.
        settings: what counts as a pull; None for what the bike's file says.
        standard: correction of power, one of ``STANDARDS``, or ``none``.
        anyway: correct outside the standard's limits too, flagged.
        target: lambda wanted at full throttle; with it pulls say where they leave it.
        from_s: leave out pulls that begin before [s].
        to_s: leave out pulls that end after [s].
        delay: the session's delay where it is at hand.
        ask_ride: where it is not: ask the ride for it, which takes seconds; else the pipe's geometry alone.
        add_loss: add the driveline's loss by the session's own coast-downs of the roller.

    Raises:
        BadValue: there is no engine speed, or no such correction.
    """
    check_standard(standard)
    if target is not None and not 0.5 <= target <= 1.5:
        raise BadValue(
            f"a target of lambda {target:g} is none for full throttle; give 0.5 to 1.5, such as 0.87"
        )
    bike = run.bike
    settings = settings or (PullSettings() if bike is None else bike.pulls)
    cell = (
        () if bike is None or bike.brake is None or bike.brake.load_cell is None else (bike.brake.load_cell,)
    )
    log = log_of(run, cell)
    findings = find(log, bike, settings)
    means = means_of(run, log)
    wanted = [one for one in findings.of("pull", "hold") if _inside(one, from_s, to_s)]
    lost = _driveline(log, findings, means) if wanted else None
    if delay is None and ask_ride and log.lambdas and wanted:
        delay = delay_of(run)
    asked = _Asked(run, findings, settings, means, lost, standard, anyway, add_loss)
    laid = _laid(asked, [one for one in wanted if one.kind == "pull"], delay)
    margin = 0.03 if bike is None else bike.margin
    pulls = _pulls(asked, laid, None if target is None else (target, margin))
    holds = _holds(asked, _laid(asked, [one for one in wanted if one.kind == "hold"], delay))
    notes = _notes(run, log, findings, means, pulls, of_air=bool(wanted))
    return Pulls(run, settings, pulls, holds, findings, means, lost, laid.delay, target, notes)


def _inside(piece: Piece, from_s: float | None, to_s: float | None) -> bool:
    return (from_s is None or piece.start_s >= from_s) and (to_s is None or piece.end_s <= to_s)


def _driveline(log: Log, findings: Findings, means: Means) -> Coasted | None:
    """Return the driveline's loss by the session's own coast-downs on a roller."""
    if means.source not in {"roller", "brake"} or not log.has("roller_rpm"):
        return None
    return coasted(log, findings.gears, "roller_rpm", dyno.RAD_S_PER_RPM)


@dataclass(frozen=True)
class _Asked:
    """What all pulls of a session share."""

    run: Run
    findings: Findings
    settings: PullSettings
    means: Means
    lost: Coasted | None
    standard: str
    anyway: bool
    add_loss: bool

    @property
    def near(self) -> Near:
        """What was recorded around the pulls."""
        return self.findings.near


@dataclass(frozen=True)
class _Laid:
    """Several pieces, and what was worked out for all of them at once."""

    pieces: tuple[Piece, ...]
    began: tuple[Conditions, ...]
    corrected: tuple[Corrected, ...]
    along: tuple[Along | None, ...]
    mixture: tuple[tuple[Mixture, ...], ...]
    curves: tuple[pl.DataFrame, ...]
    grids: Grids
    delay: Delay


def _laid(asked: _Asked, pieces: Sequence[Piece], found: Found | None) -> _Laid:
    """Work out conditions, power and mixture of some pieces."""
    near, run, settings = asked.near, asked.run, asked.settings
    ends = np.array([piece.end_s for piece in asked.findings.of("pull")])
    earlier = np.searchsorted(ends, [piece.start_s for piece in pieces]) - 1
    began = tuple(
        conditions(
            near,
            piece.start_s,
            piece.end_s,
            float(ends[before]) if before >= 0 else None,
            run.setup.weather,
            settings,
        )
        for piece, before in zip(pieces, earlier, strict=True)
    )
    to_standard = tuple(corrected(one.air, asked.standard, anyway=asked.anyway) for one in began)
    along = tuple(
        power_along(
            run, near, piece, asked.means, one.air, asked.lost, settings.window_s, add_loss=asked.add_loss
        )
        for piece, one in zip(pieces, began, strict=True)
    )
    grids = Grids(tuple(_grid(piece, settings.rpm_step) for piece in pieces), settings.rpm_step)
    at, pull = numbered([near.rows(piece.start_s, piece.end_s) for piece in pieces])
    delay, later = _later(asked, found)
    rows = Rows(at, grids.placed(pull, near.at("rpm", at)), later[at])
    mixture = tuple(mixtures(run, near, near.lambdas, rows, delay))
    flat = _columns(near, rows, grids, mixture, along, [one.factor for one in to_standard])
    frame = pl.DataFrame(flat, nan_to_null=True)
    edges = [0, *grids.ends] if pieces else []
    curves = tuple(frame.slice(a, len(grid)) for a, grid in zip(edges, grids.of, strict=True))
    return _Laid(tuple(pieces), began, to_standard, along, mixture, curves, grids, delay)


def _grid(piece: Piece, step: float) -> Array:
    """Return the speeds at which a piece is told; of a hold the one that is nearest."""
    if piece.kind == "hold":
        return np.array([round((piece.rpm_from + piece.rpm_to) / 2.0 / step) * step])
    return rpm_grid(piece.rpm_from, piece.rpm_to, step)


def _later(asked: _Asked, found: Found | None) -> tuple[Delay, Array]:
    """Return the session's delay, and that of each row near full throttle [s]."""
    near, run = asked.near, asked.run
    if found is not None:
        return found.delay, found.later_s[near.row]
    # the gas takes no notice of steps finer than the grids'
    rows = np.arange(0, len(near.t_s), max(1, round(near.step_s / max(near.period_s, 1e-6))))
    throttle = near.at("throttle", rows) if near.has("throttle") else None
    egt = near.at(near.egts[0], rows) if near.egts else None
    t_s = near.t_s[rows]
    delay, later = geometry_delay(t_s, near.at("rpm", rows), throttle, egt, run.bike, run.setup.weather)
    return delay, later if len(rows) in {0, len(near.t_s)} else np.interp(near.t_s, t_s, later)


def _columns(  # noqa: PLR0913, PLR0917  # what curves are made of
    near: Near,
    rows: Rows,
    grids: Grids,
    mixture: Sequence[tuple[Mixture, ...]],
    along: Sequence[Along | None],
    factors: Sequence[float],
) -> dict[str, Array]:
    """Return the curves of all pulls, one after another."""
    columns: dict[str, Array] = {"rpm": grids.flat}
    for place, name in enumerate(near.lambdas):
        of = [one[place] for one in mixture]
        if name != "lambda":
            columns[name] = _joined([one.by_rpm for one in of])
        columns[f"{name}_low"] = _joined([one.low for one in of])
        columns[f"{name}_high"] = _joined([one.high for one in of])
    if near.lambdas:
        columns["lambda"] = _joined([_of_all(of) for of in mixture])
    columns |= {name: rows.placed.mean(near.at(name, rows.at))[0] for name in near.egts}
    return columns | _power_columns(grids, along, factors)


def _of_all(mixture: Sequence[Mixture]) -> Array:
    """Return the mean of the cylinders along a pull, shape (m,); of those that tell nothing of it, none."""
    telling = [one.by_rpm for one in mixture if one.mean is not None]
    mean: Array = np.mean(telling or [mixture[0].by_rpm], axis=0)
    return mean


def _joined(parts: Sequence[Array]) -> Array:
    return np.concatenate(parts) if parts else np.empty(0)


def _power_columns(grids: Grids, along: Sequence[Along | None], factors: Sequence[float]) -> dict[str, Array]:
    known = [(i, one) for i, one in enumerate(along) if one is not None]
    pull = np.repeat([i for i, _ in known], [len(one.rpm) for _, one in known]).astype(np.int64)
    rpm = _joined([one.rpm for _, one in known])
    placed = grids.placed(pull, rpm)
    kw = _joined([one.kw for _, one in known])
    measured, sd, bias, loss = (
        placed.mean(values)[0]
        for values in (
            np.where(kw >= 0.0, kw, np.nan),
            *(_joined([getattr(one, name) for _, one in known]) for name in ("sd_kw", "bias_kw", "loss_kw")),
        )
    )
    factor = np.repeat(factors, [len(grid) for grid in grids.of])
    power = measured * factor
    return {
        "power_kw": power,
        "torque_nm": dyno.torque_nm(power, grids.flat),
        "power_measured_kw": measured,
        "power_sd_kw": sd * factor,
        "power_bias_kw": bias * factor,
        "driveline_loss_kw": loss,
    }


def _pulls(asked: _Asked, laid: _Laid, target: tuple[float, float] | None) -> tuple[Pull, ...]:
    """Return the pulls, each with what is to be said of it."""
    step = asked.settings.rpm_step
    return tuple(
        Pull(
            asked.run.session.id,
            i + 1,
            piece,
            _gear(asked, piece),
            laid.began[i],
            laid.corrected[i],
            laid.curves[i],
            laid.mixture[i],
            laid.along[i],
            () if target is None else leaves_target(laid.mixture[i], laid.grids.of[i], step, *target),
            chop_after(piece, asked.run.marks),
            tuple(_said(asked, laid, i)),
        )
        for i, piece in enumerate(laid.pieces)
    )


def _said(asked: _Asked, laid: _Laid, i: int) -> list[str]:
    along, to_standard = laid.along[i], laid.corrected[i]
    notes = _lambda_missing(laid.mixture[i])
    if along is None:
        piece = laid.pieces[i]
        why = (
            "it is shorter than the window of the differentiation, so it has no power"
            if piece.end_s - piece.start_s < asked.settings.window_s
            else "its channels of wheel and brake have too few readings in it, so it has no power"
        )
        return [*notes, why] if asked.means.source is not None else notes
    notes += along.notes
    if float(np.nanmin(along.kw, initial=0.0)) < 0.0:
        notes.append(
            "the wheel slowed down in a part of it, so its power is below zero there and left out of the curve"
        )
    return [*notes, to_standard.because] if to_standard.because else notes


def _lambda_missing(mixture: Sequence[Mixture]) -> list[str]:
    """Return which cylinders' sensors tell nothing of a pull, where others do."""
    blind = [one for one in mixture if one.mean is None]
    if not blind or len(blind) == len(mixture):
        return ["no lambda reading of it counts: none, not ready, or off the sensor's range"] if blind else []
    names = " and ".join(one.column for one in blind)
    why = "no reading, not ready, or off the sensor's range"
    return [f"{names} tells nothing of it ({why}), so its lambda is that of the other cylinders alone"]


def _gear(asked: _Asked, piece: Piece) -> int | None:
    """Return the gear: as recorded, else by its ratio."""
    told = asked.near.mean("gear", piece.start_s, piece.end_s)
    if told is not None and abs(told - round(told)) < 0.1 and round(told) >= 1:
        return round(told)
    return asked.findings.gears.number(piece.ratio)


def _holds(asked: _Asked, laid: _Laid) -> tuple[Hold, ...]:
    """Return holds as points."""
    held = []
    for i, piece in enumerate(laid.pieces):
        rpm = asked.near.mean("rpm", piece.start_s, piece.end_s) or piece.rpm_from
        along, to_standard = laid.along[i], laid.corrected[i]
        # a roller whose speed is held says nothing of power
        tells = along is not None and asked.means.source != "roller" and bool(np.isfinite(along.kw).any())
        power = float(np.nanmean(along.kw)) * to_standard.factor if tells and along is not None else None
        held.append(
            Hold(
                piece.start_s,
                piece.end_s,
                _gear(asked, piece),
                rpm,
                {one.column: one.mean for one in laid.mixture[i]},
                {one.column: one.sd for one in laid.mixture[i]},
                power,
                _held_sd(along) * to_standard.factor if tells and along is not None else None,
                None if power is None else dyno.torque_nm(power, rpm),
                along.at if tells and along is not None else None,
                to_standard,
            )
        )
    return tuple(held)


def _held_sd(along: Along) -> float:
    """Return what noise leaves in a hold's mean power, at most [kW]: windows that do not overlap are independent."""
    return float(np.nanmean(along.sd_kw) / np.sqrt(max(1.0, len(along.kw) / along.points)))


def _notes(  # noqa: PLR0913  # all that a session's notes are of
    run: Run, log: Log, findings: Findings, means: Means, found: tuple[Pull, ...], *, of_air: bool
) -> tuple[str, ...]:
    notes = list(findings.notes)
    notes += [means.why_not] if means.why_not else means.notes
    if of_air and not all(log.has(name) for name in ("air_temp", "air_pressure", "humidity")):
        asked = (*weather_notes(run.setup.weather), *carried_notes(run.weather_of))
        notes += [text.removesuffix(".") for text in asked]
    if not log.lambdas:
        notes.append("there is no lambda channel, so pulls have no mixture")
    if log.egts and found:
        notes.append(
            "a thermocouple lags by 1 to 4 s (common practice), so exhaust temperatures belong to revs before"
        )
    shifts = np.array([piece.start_s for piece in findings.of("shift")])
    changes = [
        (one, two)
        for one, two in pairwise(found)
        if two.piece.start_s - one.piece.end_s < _ONE_RUN_S
        and np.searchsorted(shifts, one.piece.end_s) < np.searchsorted(shifts, two.piece.start_s)
    ]
    for one, two in changes:
        notes.append(
            f"pulls {one.number} and {two.number} are one run through two gears, parted at the change of gear; their"
            " power is told apart, since the inertia that the engine feels is another"
        )
    outside = [pull for pull in found if pull.conditions.outside]
    notes += [
        f"pull {pull.number} is outside the stated window: {'; '.join(pull.conditions.outside)}"
        for pull in outside
    ]
    return tuple(dict.fromkeys(notes))
