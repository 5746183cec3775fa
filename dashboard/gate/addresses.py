"""Under which addresses other devices reach this machine; found without sending anything."""

import contextlib
import socket
import struct
import sys
from collections.abc import Iterator
from ipaddress import ip_address

from dashboard.gate.knock import Address, address_of

# addresses kept for documentation (published: RFC 5737, RFC 3849): nobody has them, and a connected UDP socket
# sends nothing; the system only says which of its own addresses it would use
_NOWHERE = ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1"))
_DISCARD_PORT = 9
_SIOCGIFADDR = 0x8915
_REQUEST_BYTES = 256


def url_of(address: Address | str, port: int) -> str:
    """Return the web address of a server at an address."""
    text = str(address)
    return f"http://[{text}]:{port}/" if ":" in text else f"http://{text}:{port}/"


def reached_at(host: str) -> tuple[Address, ...]:
    """Return the addresses for other devices of a server bound to ``host``.

    Args:
        host: an address of this machine; ``0.0.0.0`` is all of its IPv4 addresses, ``::`` all that it has.
    """
    bound = ip_address(host)
    if not bound.is_unspecified:
        return (bound,)
    versions = {4} if bound.version == 4 else {4, 6}
    found = dict.fromkeys(a for a in (*_by_route(), *_by_interface()) if _is_for_others(a))
    if not found:
        found = dict.fromkeys(a for a in _by_name() if _is_for_others(a))
    return tuple(a for a in found if a.version in versions)


def _is_for_others(address: Address) -> bool:
    return not (address.is_loopback or address.is_link_local or address.is_unspecified)


def _by_route() -> Iterator[Address]:
    for family, nowhere in _NOWHERE:
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((nowhere, _DISCARD_PORT))
            yield ip_address(probe.getsockname()[0])


def _by_interface() -> Iterator[Address]:
    """A hotspot of this machine's own has no route onward, so on Linux each interface is asked."""
    if sys.platform != "linux":
        return
    import fcntl  # noqa: PLC0415  # not there on every system

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for _, name in socket.if_nameindex():
            with contextlib.suppress(OSError):
                request = struct.pack(f"{_REQUEST_BYTES}s", name.encode()[:15])
                reply = fcntl.ioctl(asked.fileno(), _SIOCGIFADDR, request)
                yield ip_address(reply[20:24])


def _by_name() -> Iterator[Address]:
    with contextlib.suppress(OSError):
        for entry in socket.getaddrinfo(socket.gethostname(), None):
            address = address_of(entry[4][0])
            if address is not None:
                yield address
