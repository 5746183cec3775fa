"""The day's facts at the head of a session's sheet."""

from dash import html
from dash.development.base_component import Component

from bridge.agreement import Comparison
from bridge.model import Run
from dashboard.components.parts import as_sentence, length, moment
from dashboard.pictures import Air

_KINDS = {"practice": "Practice", "road": "Road run", "dyno": "Dynamometer day"}


def title(run: Run) -> str:
    """Return the session's heading, such as ``Practice, Hollow Lane``."""
    kind = _KINDS.get(run.session.kind or run.setup.kind or "", "Session")
    return f"{kind}, {run.session.place}" if run.session.place else f"{kind} {run.session.id}"


def facts(run: Run, comparison: Comparison, air: Air | None) -> list[Component]:
    """Return the lines below the heading: when and on what, fuel and air, how long and how it ended."""
    number = f"Session {run.session.id}"
    lines = [
        [number, moment(run.session.started), *_bike(run)],
        _fuel(run, comparison),
        [*_air(run), *_density(air)],
        _ending(run),
    ]
    state = {"recording": "Still being recorded.", "interrupted": "Interrupted and not yet sealed."}
    found: list[Component] = [html.P(" · ".join(line), className="facts") for line in lines if line]
    if run.session.state in state:
        found.append(html.P(state[run.session.state], className="facts caution-line"))
    found += [
        html.P(f"Air: {as_sentence(note)}", className="facts caution-line") for note in comparison.weather
    ]
    return found


def _bike(run: Run) -> list[str]:
    if run.bike is None:
        return ["no bike named"]
    bike = run.bike
    names = {1: "single", 2: "twin", 3: "triple", 4: "four"}
    cylinders = names.get(bike.cylinders, f"{bike.cylinders} cylinders")
    build = f"engine build {run.session.build}" if run.session.build else ""
    strokes = "two-stroke" if bike.strokes == 2 else "four-stroke"
    return [
        part for part in (bike.name, f"{strokes} {cylinders}, {bike.displacement_cc:g} cc", build) if part
    ]


def _fuel(run: Run, comparison: Comparison) -> list[str]:
    fuel = comparison.fuel
    told = "" if run.setup.fuel is not None else ", assumed"
    oil = f"oil {run.setup.oil_ratio:g} : 1" if run.setup.oil_ratio else ""
    timing = f"timing {run.setup.timing_deg:g}° before top" if run.setup.timing_deg is not None else ""
    return [
        p for p in (f"fuel {fuel.name}{told}, stoichiometric {fuel.stoich_afr:.2f} : 1", oil, timing) if p
    ]


def _air(run: Run) -> list[str]:
    air = run.setup.weather
    told = [
        f"{air.air_temp_c:g} °C" if air.air_temp_c is not None else "",
        f"{air.air_pressure_hpa:g} hPa" if air.air_pressure_hpa is not None else "",
        f"{air.humidity_percent:g} % humidity" if air.humidity_percent is not None else "",
    ]
    return [", ".join(part for part in told if part)] if any(told) else []


def _density(air: Air | None) -> list[str]:
    """Return what the air weighs, and where standard air weighs the same."""
    if air is None:
        return []
    higher = "above" if air.density_altitude_m >= 0.0 else "below"
    words = (
        f"air density {air.density_kg_m3:.3f} kg/m³, {100.0 * air.relative_density:.1f} % of standard air,"
        f" as {abs(air.density_altitude_m):.0f} m {higher} sea level"
    )
    return [words]


def _ending(run: Run) -> list[str]:
    chops = [mark for mark in run.marks if mark.what == "chop"]
    words = [length(run.session.seconds), f"{run.session.samples:,} samples".replace(",", " ")]
    if chops:
        last = chops[-1].t_s
        near_end = run.session.seconds - last < 30.0
        words.append("chop at the end" if near_end else f"chop at {length(last)}")
    return words
