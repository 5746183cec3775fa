"""The PIN: what is fit, what is kept, and the file it is kept in."""

import hashlib
import json
import os
import stat
import subprocess
import sys
import tempfile
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import BadFile, BadValue, DiskTrouble
from dashboard.gate import pins
from tests.dashboard.gate_tools import MADE, PIN


def test_a_made_pin_has_eight_digits():
    """A PIN that the program makes is eight digits, fit by its own rules, and another one each time."""
    made = {pins.make_pin() for _ in range(200)}

    assert len(made) == 200
    assert all(len(pin) == 8 and pins.check_pin(pin) == pin for pin in made)


@pytest.mark.parametrize(
    "pin",
    [
        "000000", "99999999", "123456", "12345678", "87654321", "890123", "246802", "112112", "121212", "27182718",
        "100000", "110011",
    ],
)  # fmt: skip  # a list of words reads best in lines
def test_a_trivial_pin_is_refused(pin):
    """One digit, two digits, even steps and pieces that repeat are what a stranger tries first."""
    with pytest.raises(BadValue, match="first that a stranger would try"):
        pins.check_pin(pin)


@pytest.mark.parametrize(
    "pin", ["27182", "", "2718281828" * 4, "27 18 28 45", "2718284x", "-2718284", "２７１８２８４５"]
)
def test_what_is_no_pin_is_refused(pin):
    """Too short, too long, or not of plain digits is refused with the rule."""
    with pytest.raises(BadValue, match="6 to 32 digits"):
        pins.check_pin(pin)


@given(st.text("0123456789", min_size=6, max_size=32))
def test_most_pins_of_a_persons_own_are_taken_as_they_are(pin):
    """A PIN is taken unchanged or refused; one with five different digits in no even steps or halves is taken."""
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    if len(set(pin)) >= 5 and len(steps) > 2 and pin[0] not in pin[1:]:
        assert pins.check_pin(pin) == pin


def test_the_hash_is_scrypt_and_salted():
    """The hash is hashlib's own scrypt over salt and digits; the same PIN twice has another salt and hash."""
    one, two = pins.keep(PIN, MADE), pins.keep(PIN, MADE)

    own = hashlib.scrypt(
        PIN.encode(), salt=bytes.fromhex(one.salt), n=16384, r=8, p=1, maxmem=2**26, dklen=32
    )
    assert one.hash == own.hex()
    assert (one.n, one.r, one.p, len(one.salt)) == (16384, 8, 1, 32)
    assert len({one.hash, two.hash, one.salt, two.salt, one.series, two.series}) == 6


def test_scrypt_against_the_published_vector():
    """The library's scrypt gives the RFC 7914 section 12 vector for N = 16384, r = 8, p = 1 (published)."""
    got = hashlib.scrypt(b"pleaseletmein", salt=b"SodiumChloride", n=16384, r=8, p=1, maxmem=2**26, dklen=64)

    assert got.hex().startswith("7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2")


def test_only_the_right_pin_is_right():
    """The PIN verifies; its neighbours, an empty one and odd text do not."""
    kept = pins.keep(PIN, MADE)

    assert pins.verify(PIN, kept)
    for wrong in ("27182846", PIN[:-1], PIN + "0", "", "\udc80", "２７１８２８４５"):
        assert not pins.verify(wrong, kept)


def test_the_file_holds_no_pin(tmp_path):
    """What is written is read back, and the PIN does not stand in it."""
    made = pins.new_pin(tmp_path)
    text = (tmp_path / pins.FILE).read_text(encoding="utf-8")

    assert made not in text
    assert pins.verify(made, pins.read_pin(tmp_path))
    assert [p.name for p in tmp_path.iterdir()] == [pins.FILE]


@pytest.mark.skipif(os.name != "posix", reason="other systems keep rights another way")
def test_the_file_is_its_owners_alone(tmp_path):
    """The file has mode 0600 whatever the umask, also where a wider one stood before."""
    (tmp_path / pins.FILE).write_text("{}", encoding="utf-8")
    (tmp_path / pins.FILE).chmod(0o666)
    before = os.umask(0)
    try:
        pins.new_pin(tmp_path)
    finally:
        os.umask(before)

    assert stat.S_IMODE((tmp_path / pins.FILE).stat().st_mode) == 0o600


def test_no_file_is_no_pin(tmp_path):
    """Where none was made there is none."""
    assert pins.read_pin(tmp_path) is None


def damages():
    """Return damaged contents by name."""
    good = pins.asdict(pins.keep(PIN, MADE))
    return {
        "empty": b"",
        "half": json.dumps(good).encode()[:90],
        "no json": b"\x89PNG\r\n\x1a\n\xff",
        "a list": b"[1]",
        "a number": b"7",
        "a key too few": json.dumps({k: v for k, v in good.items() if k != "salt"}).encode(),
        "a key too many": json.dumps({**good, "pin": PIN}).encode(),
        "short hash": json.dumps({**good, "hash": "ab"}).encode(),
        "no hex": json.dumps({**good, "salt": "zz" * 16}).encode(),
        "hash as number": json.dumps({**good, "hash": 7}).encode(),
        "cheap": json.dumps({**good, "n": 2}).encode(),
        "costly": json.dumps({**good, "n": 2**40}).encode(),
        "no time": json.dumps({**good, "made_at": "yesterday"}).encode(),
        "time as number": json.dumps({**good, "made_at": 5}).encode(),
    }


@pytest.mark.parametrize("name", damages())
def test_a_damaged_file_is_one_sentence(tmp_path, name):
    """A file that is not what the program writes is refused with the mend, whatever is wrong with it."""
    (tmp_path / pins.FILE).write_bytes(damages()[name])

    with pytest.raises(BadFile, match=r"pin\.json is damaged.*sootline pin"):
        pins.read_pin(tmp_path)
    assert pins.verify(pins.new_pin(tmp_path), pins.read_pin(tmp_path))


@given(st.binary(max_size=200))
def test_any_bytes_are_a_pin_file_or_refused(data):
    """No bytes whatever make the reading fail in another way than by its own sentence."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / pins.FILE).write_bytes(data)
        with pytest.raises(BadFile):
            pins.read_pin(Path(folder))


def test_a_folder_that_takes_no_file(tmp_path, monkeypatch):
    """Where nothing can be written the PIN before stays, and no half file lies about."""
    pins.new_pin(tmp_path, PIN)

    def full(_fd):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(pins.os, "fsync", full)
    with pytest.raises(DiskTrouble, match="the one before stays"):
        pins.new_pin(tmp_path)

    assert pins.verify(PIN, pins.read_pin(tmp_path))
    assert [p.name for p in tmp_path.iterdir()] == [pins.FILE]


def test_ending_sessions_keeps_the_pin(tmp_path):
    """Ending all sessions changes the series and nothing else."""
    pins.new_pin(tmp_path, PIN)
    before = pins.read_pin(tmp_path)
    pins.end_sessions(tmp_path)
    after = pins.read_pin(tmp_path)

    assert after.series != before.series
    assert (after.hash, after.salt, after.made_at) == (before.hash, before.salt, before.made_at)


def test_ending_sessions_without_a_pin_is_refused(tmp_path):
    """Where no PIN was made there is nothing to end, and no file is made."""
    with pytest.raises(BadValue, match="nothing to end"):
        pins.end_sessions(tmp_path)
    assert not list(tmp_path.iterdir())


def test_pins_load_nothing_heavy():
    """`sootline pin` loads no Dash."""
    script = "import sys, dashboard.gate.pins; print('dash' in sys.modules or 'fastapi' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "False"
