"""``demo`` and ``serve``: the dashboard, for this machine or, behind a PIN, for its network."""

import argparse
import os
import socket
import sys
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING

from bridge.cli.context import logbook_folder, writing
from bridge.cli.output import local
from bridge.cli.parser import Parser, command
from bridge.errors import BadValue, PortNotUsable

if TYPE_CHECKING:
    from dashboard.gate import Door

LOOPBACK = "127.0.0.1"
DEFAULT_PORT = 8742


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands."""
    one = command(
        commands, "demo", demo, "build the demo's logbook from sample_logs/ and show it", with_json=False
    )
    _add_server_options(one)
    one = command(commands, "serve", serve, "show the dashboard on a logbook", with_json=False)
    one.add_argument(
        "--host",
        default=LOOPBACK,
        metavar="H",
        help="an address of this machine; 0.0.0.0 for all; any but 127.0.0.1 behind a PIN",
    )
    one.add_argument(
        "--name",
        action="append",
        default=[],
        metavar="NAME",
        help="a further name or address by which other devices call this machine",
    )
    _add_server_options(one)


def _add_server_options(parser: Parser) -> None:
    parser.add_argument(
        "--port", type=int, default=DEFAULT_PORT, metavar="N", help=f"TCP port ({DEFAULT_PORT})"
    )
    parser.add_argument("--no-browser", action="store_true", help="do not open a browser")


def serve(args: argparse.Namespace) -> int:
    """Serve the dashboard on the logbook."""
    host = _address(args.host)
    listeners = _listen(host, args.port)
    try:
        with writing(args):
            pass  # made where it is missing, brought up to date, what was left unsealed sealed
        folder = logbook_folder(args)
        door = None if ip_address(host).is_loopback else _open_door(folder, host, listeners, args.name)
        return _run(folder, listeners, door, browser=not args.no_browser)
    finally:
        for listener in listeners:
            listener.close()


def demo(args: argparse.Namespace) -> int:
    """Build the demo's logbook anew and serve it."""
    from bridge.cli.demo import build, demo_folder  # noqa: PLC0415  # start-up

    folder = Path(args.logbook) if args.logbook else demo_folder()
    built = build(folder)
    print(f"{built} invented sessions in {folder}", flush=True)
    listeners = _listen(LOOPBACK, args.port)
    try:
        return _run(folder, listeners, None, browser=not args.no_browser)
    finally:
        for listener in listeners:
            listener.close()


def _address(host: str) -> str:
    """Return what --host names, as an address."""
    try:
        return str(ip_address(LOOPBACK if host == "localhost" else host))
    except ValueError:
        raise BadValue(
            f"--host takes an address of this machine, such as 127.0.0.1 or 0.0.0.0 for all of them, not '{host}'"
        ) from None


def _listen(host: str, port: int) -> list[socket.socket]:
    """Open the port on an address, and on the loopback too, since this machine's own page is there alone."""
    address = ip_address(host)
    listeners = [_listener(host, port)]
    if not (address.is_loopback or host == "0.0.0.0" or _takes_both(listeners[0])):  # noqa: S104  # compared
        try:
            listeners.append(_listener(LOOPBACK, listeners[0].getsockname()[1]))
        except PortNotUsable:
            listeners[0].close()
            raise
    return listeners


def _takes_both(listener: socket.socket) -> bool:
    """Return whether a socket on ``::`` takes IPv4 as well."""
    if listener.family != socket.AF_INET6 or listener.getsockname()[0] != "::":
        return False
    return not listener.getsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY)


def _listener(host: str, port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    try:
        if os.name == "posix":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if host == "::":
            listener.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 0)
        listener.bind((host, port))
        listener.listen(128)  # from now on a browser waits instead of being refused
    except (OSError, OverflowError) as error:
        listener.close()
        raise PortNotUsable(
            f"TCP port {port} on {host} cannot be used ({_reason(error)}); --host takes an address of this machine,"
            " and another port is chosen with --port",
        ) from error
    return listener


def _open_door(folder: Path, host: str, listeners: list[socket.socket], names: list[str]) -> "Door":
    """Make the PIN where there is none, and say all that a person needs to come in."""
    from dashboard.gate import Door, pins, reached_at, url_of  # noqa: PLC0415  # start-up

    kept = pins.read_pin(folder)
    made = None if kept else pins.new_pin(folder)
    port = listeners[0].getsockname()[1]
    urls = tuple(url_of(where, port) for where in [*names, *reached_at(host)])
    print(f"for other devices in this network: {', '.join(urls) or 'no address was found'}")
    if kept is not None:
        when = local(kept.made)
        print(f"behind the PIN of {when}; only its hash is kept, 'sootline pin' makes a new one")
    else:
        print(f"behind the PIN {made}, just made; only its hash is kept, 'sootline pin' makes a new one")
    print(pins.PLAIN_HTTP)
    door = Door(folder, urls=urls, names=frozenset(name.lower() for name in names))
    if made is not None:
        door.show(made)
    return door


def _run(folder: Path, listeners: list[socket.socket], door: "Door | None", *, browser: bool) -> int:
    import uvicorn  # noqa: PLC0415  # start-up

    from dashboard.app import create_app  # noqa: PLC0415  # start-up
    from dashboard.gate import DOOR, url_of  # noqa: PLC0415  # start-up

    own = listeners[-1].getsockname()
    url = url_of(LOOPBACK if own[0] in ("0.0.0.0", "::") else own[0], own[1])  # noqa: S104  # compared
    page = url if door is None else url.rstrip("/") + DOOR
    if door is not None:
        print(f"this machine's own page, with the address as a QR code: {page}")
    print(f"the dashboard is at {url} (stop with Ctrl-C)", flush=True)
    if browser:
        import threading  # noqa: PLC0415  # start-up
        import webbrowser  # noqa: PLC0415  # start-up

        threading.Timer(1.0, webbrowser.open, (page,)).start()
    config = uvicorn.Config(
        create_app(folder, door),
        log_level="warning",
        access_log=False,
        lifespan="on",
        proxy_headers=False,  # who asks is who connected; a header could say anything
        server_header=False,
    )
    try:
        uvicorn.Server(config).run(sockets=listeners)
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
    return 0


def _reason(error: Exception) -> str:
    return (
        error.strerror or str(error) if isinstance(error, OSError) else "it is no port number from 0 to 65535"
    )
