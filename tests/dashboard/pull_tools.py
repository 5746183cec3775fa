"""What the tests of the pages of pulls ask with."""

import asyncio
import json

import httpx

from dashboard.app import create_app

LOCAL = "http://127.0.0.1:8742"


def words(component):
    """Return a page as the text that goes to the browser."""
    return json.dumps(component, default=lambda one: one.to_plotly_json(), ensure_ascii=False)


def callback_of(app, output):
    """Return the coroutine behind an output, as the page registered it."""
    found = next(one for key, one in app.callback_map.items() if output in key)
    return found["callback"].__wrapped__


def get(folder, path):
    """Ask the whole app, gate and all, for an address."""

    async def ask():
        transport = httpx.ASGITransport(create_app(folder), client=("127.0.0.1", 50000))
        async with httpx.AsyncClient(transport=transport, base_url=LOCAL) as client:
            return await client.get(path)

    return asyncio.run(ask())


def cells_of(component):
    """Return the cells of a component's tables as they go to the browser, in order."""
    inside = json.loads(words(component))
    found = []

    def look(one):
        if isinstance(one, list):
            for each in one:
                look(each)
        elif isinstance(one, dict):
            if one.get("type") == "Td":
                found.append(one)
            look(one.get("props", {}).get("children"))

    look(inside)
    return found
