"""What happens when somebody writes on the to-do or ticks it off: the same on every page that shows one."""

import asyncio
from collections.abc import Callable
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, no_update
from dash.development.base_component import Component

from bridge.errors import SootlineError
from dashboard import ids
from dashboard.components import todo
from dashboard.components.fields import as_number, as_words, by_name
from dashboard.components.parts import refused, said
from dashboard.data import Source

Scope = dict[str, Any]
Answer = tuple[object, object]


def register(app: Dash, source: Source) -> None:
    """Put the callbacks into an app."""

    @app.callback(Output(ids.TASKS, "children"), Input(ids.TASKS_OF, "data"))
    async def opened(of: Scope) -> Component:
        return await asyncio.to_thread(shown, source, of)

    @app.callback(
        Output(ids.TASKS, "children", allow_duplicate=True),
        Output(ids.TASK_MESSAGE, "children"),
        Input(ids.TASK_ADD, "n_clicks"),
        State({"type": ids.TASK_FIELD, "name": ALL}, "id"),
        State({"type": ids.TASK_FIELD, "name": ALL}, "value"),
        State(ids.TASKS_OF, "data"),
        prevent_initial_call=True,
    )
    async def added(clicks: int | None, names: list[dict[str, str]], values: list[Any], of: Scope) -> Answer:
        if not clicks:
            return no_update, no_update
        return await asyncio.to_thread(_written, source, of, lambda: _add(source, of, by_name(names, values)))

    @app.callback(
        Output(ids.TASKS, "children", allow_duplicate=True),
        Output(ids.TASK_MESSAGE, "children", allow_duplicate=True),
        Input({"type": ids.TASK_TEST, "cylinder": ALL}, "n_clicks"),
        State({"type": ids.TASK_TEST_WORDS, "cylinder": ALL}, "data"),
        State(ids.TASKS_OF, "data"),
        prevent_initial_call=True,
    )
    async def test_taken(clicks: list[int | None], tests: list[dict[str, Any]], of: Scope) -> Answer:
        triggered = ctx.triggered_id
        if not triggered or not any(clicks):
            return no_update, no_update
        told = next(one for one in tests if one["cylinder"] == triggered["cylinder"])
        return await asyncio.to_thread(_written, source, of, lambda: _add_test(source, of, told))

    @app.callback(
        Output(ids.TASKS, "children", allow_duplicate=True),
        Output(ids.TASK_MESSAGE, "children", allow_duplicate=True),
        Input({"type": ids.TASK_DONE, "task": ALL}, "n_clicks"),
        State(ids.TASKS_OF, "data"),
        prevent_initial_call=True,
    )
    async def done(clicks: list[int | None], of: Scope) -> Answer:
        triggered = ctx.triggered_id
        if not triggered or not any(clicks):
            return no_update, no_update
        return await asyncio.to_thread(_written, source, of, lambda: _finish(source, triggered["task"]))


def _written(source: Source, of: Scope, write: Callable[[], str]) -> Answer:
    try:
        words = write()
    except SootlineError as error:
        return no_update, refused(error)
    return shown(source, of), said(words)


def shown(source: Source, of: Scope) -> Component:
    """Return the to-do of a session, or of a bike with what came of its promises."""
    if of.get("session") is not None:
        return todo.listed(source.tasks(int(of["session"])))
    return todo.listed(*source.promised(str(of["bike"])))


def _add(source: Source, of: Scope, raw: dict[str, Any]) -> str:
    cylinder = raw.get("cylinder", todo.ENGINE)
    task, caution = source.add_task(
        int(of["session"]),
        as_words(raw.get("what")) or "",
        cylinder=None if cylinder == todo.ENGINE else int(cylinder),
        because=None,
        promise=as_number(raw.get("promise"), "the promise"),
    )
    return f"Written down: {task.what}. {caution}".strip()


def _add_test(source: Source, of: Scope, told: dict[str, Any]) -> str:
    task, caution = source.add_task(
        int(of["session"]), told["what"], cylinder=told["cylinder"], because=told["because"], promise=None
    )
    return f"Written down: {task.what}. {caution}".strip()


def _finish(source: Source, number: int) -> str:
    return f"Done: {source.finish_task(number, None).what}."
