"""``demo`` and ``serve``: the dashboard."""

import argparse
import os
import sys
from pathlib import Path

from bridge.cli.context import logbook_folder, writing
from bridge.cli.parser import Parser, command
from bridge.errors import BadValue, PortNotUsable

LOOPBACK = ("127.0.0.1", "localhost", "::1")
DEFAULT_PORT = 8742


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands."""
    one = command(
        commands, "demo", demo, "build the demo's logbook from sample_logs/ and show it", with_json=False
    )
    _add_server_options(one)
    one = command(
        commands, "serve", serve, "show the dashboard on a logbook, for this machine only", with_json=False
    )
    one.add_argument("--host", default="127.0.0.1", metavar="H", help="127.0.0.1; no other address yet")
    _add_server_options(one)


def _add_server_options(parser: Parser) -> None:
    parser.add_argument(
        "--port", type=int, default=DEFAULT_PORT, metavar="N", help=f"TCP port ({DEFAULT_PORT})"
    )
    parser.add_argument("--no-browser", action="store_true", help="do not open a browser")


def serve(args: argparse.Namespace) -> int:
    """Serve the dashboard on the logbook."""
    if args.host not in LOOPBACK:
        raise BadValue(
            f"the dashboard serves this machine only for now, so --host cannot be '{args.host}'; leave it out",
        )
    with writing(args):
        pass  # made where it is missing, brought up to date, what was left unsealed sealed
    return _run(logbook_folder(args), args.host, args.port, browser=not args.no_browser)


def demo(args: argparse.Namespace) -> int:
    """Build the demo's logbook anew and serve it."""
    from bridge.cli.demo import build, demo_folder  # noqa: PLC0415  # start-up

    folder = Path(args.logbook) if args.logbook else demo_folder()
    built = build(folder)
    print(f"{built} invented sessions in {folder}", flush=True)
    return _run(folder, "127.0.0.1", args.port, browser=not args.no_browser)


def _run(folder: Path, host: str, port: int, *, browser: bool) -> int:
    import socket  # noqa: PLC0415  # start-up

    import uvicorn  # noqa: PLC0415  # start-up

    from dashboard.app import create_app  # noqa: PLC0415  # start-up

    listener = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    if os.name == "posix":
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen(128)  # from now on a browser waits instead of being refused
    except (OSError, OverflowError) as error:
        listener.close()
        raise PortNotUsable(
            f"TCP port {port} on {host} cannot be used ({_reason(error)}); try another with --port",
        ) from error
    name = f"[{host}]" if ":" in host else host
    url = f"http://{name}:{listener.getsockname()[1]}/"
    print(f"the dashboard is at {url} (stop with Ctrl-C)", flush=True)
    if browser:
        import threading  # noqa: PLC0415  # start-up
        import webbrowser  # noqa: PLC0415  # start-up

        threading.Timer(1.0, webbrowser.open, (url,)).start()
    server = uvicorn.Server(uvicorn.Config(create_app(folder), log_level="warning", lifespan="on"))
    try:
        server.run(sockets=[listener])
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
    return 0


def _reason(error: Exception) -> str:
    return (
        error.strerror or str(error) if isinstance(error, OSError) else "it is no port number from 0 to 65535"
    )
