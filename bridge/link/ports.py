"""Serial ports, by device path or by URL.

Everything goes through pyserial's ``serial_for_url``, so that ``/dev/ttyUSB0``, ``COM3``, ``socket://host:port``
and ``loop://`` are opened, read and closed alike.
"""

import errno
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, Self

import serial
from serial.tools import list_ports as serial_list

from bridge.errors import PortNotUsable

DEFAULT_BAUD = 115_200
URL_SCHEMES = ("socket", "loop")
"""The others that pyserial knows write files or reach drivers that nobody here has asked for."""


class Port(Protocol):
    """What the recorder asks of a port."""

    port: str

    def read(self, size: int = 1, /) -> bytes:
        """Return at most ``size`` bytes of what waits, at once; empty where nothing does."""

    def write(self, data: bytes, /) -> int | None:
        """Send bytes."""

    def close(self) -> None:
        """Let the port go."""

    def __enter__(self) -> Self:
        """Use it in a with statement, which lets it go at the end."""

    def __exit__(self, *exc: object) -> None: ...


@dataclass(frozen=True)
class PortInfo:
    """A serial port of this machine."""

    device: str
    """What ``open_port`` takes."""
    description: str
    serial_number: str | None


def list_ports() -> list[PortInfo]:
    """Return the serial ports of this machine, by name."""
    return sorted(
        (PortInfo(p.device, p.description or "", p.serial_number) for p in serial_list.comports()),
        key=lambda info: info.device,
    )


def open_port(device_or_url: str, baud: int = DEFAULT_BAUD) -> Port:
    """Open a port for reading without waiting.

    Args:
        device_or_url: a device path, or a URL such as ``socket://host:port`` or ``loop://``.
        baud: bits a second; a URL's port ignores it, and so does USB.

    Returns:
        The open port, held for this process alone where the system can do that.

    Raises:
        PortNotUsable: it is not there, not permitted, busy or no serial port; the sentence says the mend.
    """
    scheme, is_url, _ = device_or_url.lower().partition("://")
    if is_url and scheme not in URL_SCHEMES:
        raise PortNotUsable(
            f"a port cannot be named by '{scheme}://'; use a device path or socket://host:port",
        )
    try:
        port: Port = serial.serial_for_url(
            device_or_url,
            baudrate=baud,
            timeout=0,
            write_timeout=0.2,
            # a second reader would take every other byte away
            exclusive=True if os.name == "posix" else None,
        )
    except (OSError, ValueError, OverflowError) as error:  # SerialException is an OSError
        raise PortNotUsable(_why(device_or_url, baud, error)) from error
    return port


def _why(device: str, baud: int, error: Exception) -> str:
    if "baud" in str(error).lower() or isinstance(error, OverflowError):
        return f"{baud} baud is not a speed that port '{device}' can run at; 115200 is usual"
    return _why_url(device, error) if "://" in device else _why_device(device, error)


def _why_device(device: str, error: Exception) -> str:
    text = str(error).lower()
    # on Windows pyserial gives words only; there, a port that another program holds is "not permitted"
    number = getattr(error, "errno", None)
    if number == errno.ENOENT or "filenotfounderror" in text:
        there = ", ".join(info.device for info in list_ports()) or "none at all"
        return f"there is no port '{device}': plug the logger in and name its port; this machine has {there}"
    if number in (errno.EACCES, errno.EPERM):
        group = _group(device)
        by = f" (sudo usermod -aG {group} $USER)" if sys.platform.startswith("linux") else ""
        return f"no right to use port '{device}': have yourself added to the group '{group}'{by}, log out and in again"
    if number in (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK) or "permissionerror" in text:
        return f"port '{device}' is held by another program; close that one and try again"
    if number in (errno.ENOTTY, errno.EISDIR, errno.EINVAL) or "inappropriate ioctl" in text:
        return f"'{device}' is not a serial port; `sootline ports` lists those of this machine"
    return f"port '{device}' cannot be opened ({error}); `sootline ports` lists those of this machine"


def _why_url(url: str, error: Exception) -> str:
    if "expected a string in the form" in str(error) or "not supported between" in str(error):
        return f"'{url}' is not a whole address; write it as socket://host:port"
    return f"nothing can be reached at {url} ({error}); start the logger's side first and check host and port"


def _group(device: str) -> str:
    """Return the group that may use a device; ``dialout`` where it cannot be told."""
    try:
        name = Path(device).group()
    except (OSError, KeyError, NotImplementedError):
        return "dialout"
    return "dialout" if name == "root" else name
