"""Who knocks, and under which name: read off a connection's ASGI scope, and judged. Pure.

A page of a foreign site can have its own name resolve to this machine (DNS rebinding), and then it sends that
name as Host; so a Host is right only as the very address at which the connection arrived, or as a name that was
chosen. A foreign page that posts to us, or opens a socket, sends its own Origin.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address

from dashboard.gate.asgi import Scope

Address = IPv4Address | IPv6Address
OnThisMachine = Callable[[Address | None, Address | None], bool]

_HOST = re.compile(r"(\[[0-9a-f:.]{2,45}\]|[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?)(?::([0-9]{1,5}))?")
_PASSED_ON = frozenset({"forwarded", "via", "x-forwarded-for", "x-forwarded-host", "x-real-ip"})
_LOOKS = frozenset({"GET", "HEAD", "OPTIONS"})
_HTTP_PORT = 80


@dataclass(frozen=True)
class Knock:
    """One connection, as far as the gate cares.

    Attributes:
        peer: who connected; None where the server does not know.
        local: the address of this machine at which the connection arrived.
        host: the one Host header in lower case; empty where there is none or more than one.
        name: the Host's name or address without its port; empty where it cannot be read.
        host_port: the Host's port.
        port: the port at which the connection arrived.
        origins: all Origin headers.
        passed_on: whether a proxy says that it stands between; then the peer is not who asks.
        changes: whether this asks for a change, or for a socket.
        cookies: the cookies by name; of several the first.
    """

    path: str
    peer: Address | None
    local: Address | None
    host: str
    name: str
    host_port: int
    port: int
    origins: tuple[str, ...]
    passed_on: bool
    changes: bool
    cookies: dict[str, str]


def address_of(text: object) -> Address | None:
    """Return an address, one of IPv4 written as IPv6 being itself; None where it is none."""
    try:
        address = ip_address(str(text).split("%", 1)[0].strip("[]"))
    except ValueError:
        return None
    return (address.ipv4_mapped or address) if isinstance(address, IPv6Address) else address


def read_knock(scope: Scope) -> Knock:
    """Read a connection of type ``http`` or ``websocket``."""
    headers = [(bytes(n).decode("latin-1").lower(), bytes(v).decode("latin-1")) for n, v in scope["headers"]]
    hosts = [value.lower() for name, value in headers if name == "host"]
    match = _HOST.fullmatch(hosts[0]) if len(hosts) == 1 else None
    server = tuple(scope.get("server") or (None, None))
    client = scope.get("client") or (None,)
    return Knock(
        path=scope["path"],
        peer=address_of(client[0]),
        local=address_of(server[0]),
        host=hosts[0] if match else "",
        name=match[1] if match else "",
        host_port=int(match[3] or _HTTP_PORT) if match else 0,
        port=server[1] or _HTTP_PORT,
        origins=tuple(value for name, value in headers if name == "origin"),
        passed_on=any(name in _PASSED_ON for name, _ in headers),
        changes=scope["type"] == "websocket" or scope["method"] not in _LOOKS,
        cookies=_cookies([value for name, value in headers if name == "cookie"]),
    )


def _cookies(lines: list[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for part in ";".join(lines).split(";"):
        name, equals, value = part.strip().partition("=")
        if equals:
            found.setdefault(name, value)
    return found


def host_is_right(knock: Knock, names: frozenset[str]) -> bool:
    """Return whether the Host is where the connection arrived, or one of the names chosen, with its port.

    Args:
        knock: the connection.
        names: further names or addresses, in lower case, by which this machine is called.
    """
    if not knock.name or knock.host_port != knock.port:
        return False
    if knock.name in names:
        return True
    if knock.name == "localhost":
        return knock.local is not None and knock.local.is_loopback
    named = address_of(knock.name)
    return named is not None and named == knock.local


def origin_is_right(knock: Knock) -> bool:
    """Return whether what asks for a change is a page that this very Host gave out."""
    if not knock.changes:
        return True
    return len(knock.origins) == 1 and knock.origins[0].lower() == f"http://{knock.host}"


def on_loopback(peer: Address | None, local: Address | None) -> bool:
    """Return whether both ends of a connection are this machine's loopback."""
    return peer is not None and local is not None and peer.is_loopback and local.is_loopback


def is_own(knock: Knock, on_this_machine: OnThisMachine = on_loopback) -> bool:
    """Return whether this machine's own browser asks: by both ends, by its Host, and with no proxy between."""
    named = address_of(knock.name)
    by_name = knock.name == "localhost" or (named is not None and named.is_loopback)
    return by_name and not knock.passed_on and on_this_machine(knock.peer, knock.local)
