"""The PIN: what makes a fit one, its scrypt hash, and the file that keeps the hash and nothing else of it.

scrypt (published: RFC 7914) with N = 2^14, r = 8, p = 1, which takes 16 MiB and some 50 ms; a PIN of eight digits
is short, so what protects it is the counting of tries (tries.py) and the file's rights, not the hash alone.
"""

import hashlib
import hmac
import json
import os
import re
import secrets
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Final

from bridge.errors import BadFile, BadValue, DiskTrouble

FILE: Final = "pin.json"
DIGITS: Final = 8
PLAIN_HTTP: Final = (
    "The page goes over the network unencrypted: whoever shares this network can read along, the PIN too."
    " Use it on a network whose members you know."
)
"""Said wherever the PIN is shown or asked for."""
FEWEST: Final = 6
MOST: Final = 32
_SALT_BYTES, _HASH_BYTES, _SERIES_BYTES = 16, 32, 16
_N, _R, _P = 2**14, 8, 1
_MOST_MEMORY = 256 * 2**20


@dataclass(frozen=True)
class KeptPin:
    """What is kept of a PIN.

    Attributes:
        hash: scrypt of its digits, hex.
        salt: hex.
        n: scrypt's cost.
        r: scrypt's block size.
        p: scrypt's parallelisation.
        made_at: when, ISO 8601 in UTC.
        series: a random word; sessions opened under another one are over.
    """

    hash: str
    salt: str
    n: int
    r: int
    p: int
    made_at: str
    series: str

    @property
    def made(self) -> datetime:
        """The moment it was made."""
        return datetime.fromisoformat(self.made_at)


def make_pin() -> str:
    """Return a new random PIN of eight digits that is not a trivial one."""
    while True:
        pin = f"{secrets.randbelow(10**DIGITS):0{DIGITS}d}"
        if not _is_trivial(pin):
            return pin


def check_pin(pin: str) -> str:
    """Return a PIN that somebody chose.

    Raises:
        BadValue: it is too short, too long, not of digits, or among the first that a stranger would try.
    """
    if not re.fullmatch(rf"[0-9]{{{FEWEST},{MOST}}}", pin):
        raise BadValue(f"a PIN is {FEWEST} to {MOST} digits, and nothing else; give it as --set 27182845")
    if _is_trivial(pin):
        raise BadValue("this PIN is among the first that a stranger would try; choose one without a pattern")
    return pin


def _is_trivial(pin: str) -> bool:
    """Two digits at most, even steps such as 1234 or 8642, or a piece that repeats such as 123123."""
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    return len(set(pin)) <= 2 or len(steps) == 1 or pin in (pin + pin)[1:-1]


def keep(pin: str, made_at: datetime) -> KeptPin:
    """Return what is kept of a PIN; takes some 50 ms."""
    salt = secrets.token_bytes(_SALT_BYTES)
    return KeptPin(
        hash=_scrypt(pin, salt, _N, _R, _P).hex(),
        salt=salt.hex(),
        n=_N,
        r=_R,
        p=_P,
        made_at=made_at.astimezone(UTC).isoformat(timespec="seconds"),
        series=secrets.token_hex(_SERIES_BYTES),
    )


def verify(pin: str, kept: KeptPin) -> bool:
    """Return whether this is the PIN; takes some 50 ms and as long for a wrong one."""
    given = _scrypt(pin, bytes.fromhex(kept.salt), kept.n, kept.r, kept.p)
    return hmac.compare_digest(given, bytes.fromhex(kept.hash))


def _scrypt(pin: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    return hashlib.scrypt(
        pin.encode("utf-8", "replace"), salt=salt, n=n, r=r, p=p, maxmem=_MOST_MEMORY, dklen=_HASH_BYTES
    )


def read_pin(folder: Path) -> KeptPin | None:
    """Read what is kept of a logbook's PIN.

    Returns:
        None where none has been made.

    Raises:
        BadFile: the file is not what `write_pin` writes.
    """
    path = folder / FILE
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise BadFile(
            f"{path} cannot be read ({error.strerror}); make a new PIN with 'sootline pin'"
        ) from error
    try:
        kept = KeptPin(**json.loads(data))
        fit = _is_fit(kept)
    except (ValueError, TypeError):
        fit = False
    if not fit:
        raise BadFile(f"{path} is damaged, so nobody is let in by it; make a new PIN with 'sootline pin'")
    return kept


def _is_fit(kept: KeptPin) -> bool:
    lengths = [len(bytes.fromhex(text)) for text in (kept.hash, kept.salt, kept.series)]
    costs_fit = kept.n in (2**14, 2**15, 2**16, 2**17) and kept.r == _R and kept.p in (1, 2, 3, 4)
    return lengths == [_HASH_BYTES, _SALT_BYTES, _SERIES_BYTES] and costs_fit and kept.made.tzinfo is not None


def write_pin(folder: Path, kept: KeptPin) -> None:
    """Write it, whole or not at all, readable by its owner alone.

    Raises:
        DiskTrouble: the folder takes no file.
    """
    path = folder / FILE
    half = path.with_name(f"{FILE}.{secrets.token_hex(4)}.new")
    try:
        with os.fdopen(
            os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8"
        ) as file:
            json.dump(asdict(kept), file, indent=1)
            file.flush()
            os.fsync(file.fileno())
        half.replace(path)
    except OSError as error:
        half.unlink(missing_ok=True)
        raise DiskTrouble(
            f"the PIN cannot be kept in {folder} ({error.strerror}); the one before stays"
        ) from error


def new_pin(folder: Path, pin: str | None = None) -> str:
    """Make a logbook's PIN, or take a chosen one; whoever was let in by the one before is out.

    Returns:
        The PIN; only its hash is kept, so this is the moment to show it.

    Raises:
        BadValue: the chosen one is not fit.
        DiskTrouble: it cannot be kept.
    """
    chosen = make_pin() if pin is None else check_pin(pin)
    write_pin(folder, keep(chosen, datetime.now(UTC)))
    return chosen


def end_sessions(folder: Path) -> None:
    """End every session of a logbook's dashboard, running or not; the PIN stays.

    Raises:
        BadFile: what is kept of the PIN is damaged.
        BadValue: no PIN has been made, so nobody has been let in.
        DiskTrouble: it cannot be written.
    """
    kept = read_pin(folder)
    if kept is None:
        raise BadValue(
            f"no PIN has been made for {folder}, so nobody has been let in; there is nothing to end"
        )
    write_pin(folder, replace(kept, series=secrets.token_hex(_SERIES_BYTES)))
