"""The dashboard as an ASGI app on one logbook; nothing is global, so tests make as many as they like."""

from pathlib import Path
from typing import cast

from dash import Dash
from fastapi import FastAPI

from dashboard import shell, todo_calls
from dashboard.data import Source
from dashboard.gate import Door, Gate
from dashboard.gate.asgi import App, Receive, Scope, Send, is_page
from dashboard.gate.knock import OnThisMachine, on_loopback
from dashboard.live.routes import add_routes
from dashboard.pages import (
    box,
    labels,
    live,
    plug,
    plugs,
    pulls,
    pulls_compared,
    scale,
    season,
    sensor,
    session,
    sessions,
)
from dashboard.plug_routes import add_plug_routes
from dashboard.pull_routes import add_pull_routes

_PAGES = (
    sessions,
    session,
    plugs,
    plug,
    box,
    scale,
    season,
    labels,
    sensor,
    pulls,
    pulls_compared,
    live,
)


def create_app(
    logbook: Path, door: Door | None = None, *, on_this_machine: OnThisMachine = on_loopback
) -> Gate:
    """Make the dashboard.

    Args:
        logbook: the logbook's folder; it has to exist, and is opened anew for each request.
        door: how other devices come in; without one, this machine alone is served.
        on_this_machine: whether both ends of a connection are this machine.

    Returns:
        An ASGI app behind its gate.
    """
    # no pages of documentation: they would be fetched from the web
    server = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    source = Source(logbook)
    add_routes(server, logbook)  # before Dash adds its own, which take every address
    add_plug_routes(server, source)
    add_pull_routes(server, source)
    app = Dash(
        "dashboard",
        server=server,  # type: ignore[arg-type]  # Dash takes a FastAPI, its annotation does not say so
        assets_folder=str(Path(__file__).parent / "assets"),
        title="Sootline",
        update_title="",
        index_string=shell.INDEX,
        suppress_callback_exceptions=True,  # each page's callbacks wait for that page
        use_pages=False,
        add_log_handler=False,
        enable_mcp=False,
    )
    shell.register(app, [page.register(app, source) for page in _PAGES])
    todo_calls.register(app, source)
    hashes = tuple(app.csp_hashes())
    return Gate(Pages(cast("App", server)), door, script_hashes=hashes, on_this_machine=on_this_machine)


class Pages:
    """Every page's address gets the one document that the pages are put into.

    Dash sets itself up on the first request for ``/`` and knows its other addresses only through a global
    app; so a page's address is asked for as ``/`` here, and what it says is read in the browser.
    """

    def __init__(self, app: App) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] == "http" and is_page(scope["path"]):
            scope = {**scope, "path": "/", "raw_path": b"/"}
        await self.app(scope, receive, send)
