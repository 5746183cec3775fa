"""The to-do: what is to be done, its promise, and what came of it."""

from collections.abc import Sequence

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from bridge.agreement.promises import Came
from bridge.model import Task
from dashboard import ids
from dashboard.components.fields import choice, number, words
from dashboard.components.parts import aria, as_sentence

ENGINE = "all"


def listed(tasks: Sequence[Task], promises: Sequence[Came] = ()) -> Component:
    """Return what is to be done, the open ones first, and what came of each promise.

    Args:
        tasks: oldest first.
        promises: what came.
    """
    if not tasks:
        return html.P("Nothing is written down to be done.", className="quiet")
    came = {one.task.id: one for one in promises}
    ordered = sorted(tasks, key=lambda one: (one.done is not None, one.id))
    return html.Ul([_task(one, came.get(one.id)) for one in ordered], className="todo plain")


def _task(task: Task, came: Came | None) -> Component:
    whose = "" if task.cylinder is None else f", cylinder {task.cylinder}"
    lines: list[Component] = [
        html.Strong(task.what),
        html.P(
            [
                dcc.Link(f"Session {task.session}", href=f"/session/{task.session}"),
                f"{whose}. " + (as_sentence(task.because) if task.because else ""),
            ],
            className="quiet",
        ),
    ]
    if came is not None:
        lines.append(html.P(as_sentence(came.says), className=f"came came-{came.how.replace(' ', '-')}"))
    elif task.promise is not None:
        lines.append(html.P(as_sentence(f"Promised: {task.promise:+.3f} lambda at full throttle")))
    if task.done is not None:
        found = f": {task.note}" if task.note else ""
        lines.append(html.P(as_sentence(f"Done on {task.done:%d %B %Y}{found}"), className="quiet"))
    else:
        lines.append(
            html.Button(
                "Done",
                id={"type": ids.TASK_DONE, "task": task.id},
                type="button",
                className="quiet-button boxed",
                **aria(label=f"Done: {task.what}"),
            )
        )
    return html.Li(lines, className="task done-task" if task.done else "task")


def form(cylinders: int) -> Component:
    """Return the form that writes down a change and its promise, before the run.

    Args:
        cylinders: of the bike.
    """
    which = [(ENGINE, "whole engine"), *((str(n), str(n)) for n in range(1, cylinders + 1))]
    return html.Div(
        [
            words(ids.task_field("what"), "What to do next", None, "Such as: main jet 155 to 158"),
            choice(ids.task_field("cylinder"), "Cylinder", which, ENGINE) if cylinders > 1 else None,
            number(
                ids.task_field("promise"),
                "Promise: change of lambda at full throttle",
                None,
                "",
                "May be left empty; below zero is richer. Written down before the run, held against what comes.",
            ),
            html.P(
                "Richer before leaner, one change at a time: a lean engine breaks in seconds.",
                className="caution-line",
            ),
            dmc.Button("Write it down", id=ids.TASK_ADD, size="lg", fullWidth=True),
        ],
        className="form",
    )


def section(number: int, cylinders: int) -> Component:
    """Return a session's to-do: what is on it comes by a callback, so that the sheet never waits for it.

    Args:
        number: of the session.
        cylinders: of its bike.
    """
    return html.Section(
        [
            html.H2("What to do next"),
            dcc.Store(id=ids.TASKS_OF, data={"session": number, "bike": None}),
            html.Div(id=ids.TASKS),
            html.Div(id=ids.TASK_MESSAGE, className="said", role="status", **aria(live="polite")),
            html.Details([html.Summary("Write something down"), form(cylinders)]),
        ],
        className="part part-todo",
    )
