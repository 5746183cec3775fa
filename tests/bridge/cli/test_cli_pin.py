"""`pin`, and `serve` on the network: what is made, shown and refused."""

import http.client
import json
import re
import subprocess
import sys
from urllib.parse import urlencode

from dashboard.gate.pins import read_pin, verify


def test_a_new_pin_is_shown_once(sootline):
    """`pin` makes a PIN and shows it; afterwards only its hash is there to be told of."""
    made = sootline.ok("pin")["pin"]
    shown = sootline.ok("pin", "--show")

    assert verify(made, read_pin(sootline.folder))
    assert shown["made"] is True
    assert made not in json.dumps(shown)
    assert made not in sootline("pin", "--show").out


def test_a_pin_of_ones_own(sootline):
    """`pin --set` takes a PIN without a pattern and refuses another one before anything is made."""
    for bad in ("000000", "12345678", "27182", "pin"):
        assert "PIN" in sootline.refused("pin", "--set", bad)
    assert not sootline.folder.exists()
    sootline.ok("pin", "--set", "27182845")

    assert verify("27182845", read_pin(sootline.folder))


def test_ending_sessions(sootline):
    """`pin --end-sessions` keeps the PIN and begins another series; without a PIN it is refused."""
    assert "nothing to end" in sootline.refused("pin", "--end-sessions")
    sootline.ok("pin", "--set", "27182845")
    before = read_pin(sootline.folder).series
    assert sootline.ok("pin", "--end-sessions") == {"sessions_ended": True}

    assert verify("27182845", read_pin(sootline.folder))
    assert read_pin(sootline.folder).series != before


def test_looking_makes_nothing(sootline):
    """`pin --show` makes neither a logbook nor a PIN."""
    assert "logbook" in sootline.refused("pin", "--show")
    assert not sootline.folder.exists()


def test_a_damaged_pin_is_said_and_mended(sootline):
    """A damaged file is refused in one sentence by whoever reads it, and `pin` makes it good."""
    sootline.ok("pin")
    (sootline.folder / "pin.json").write_text("{", encoding="utf-8")

    assert "damaged" in sootline.refused("pin", "--show")
    assert "damaged" in sootline.refused("serve", "--host", "0.0.0.0", "--port", "0", "--no-browser")
    assert verify(sootline.ok("pin")["pin"], read_pin(sootline.folder))


def ask(port, method="GET", path="/", body=None, **headers):
    """Return status, headers and text of one answer from this machine's loopback."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    connection.request(method, path, body, {k.replace("_", "-"): v for k, v in headers.items()})
    answer = connection.getresponse()
    text = answer.read().decode()
    connection.close()
    return answer.status, dict(answer.getheaders()), text


def test_serve_for_the_network_makes_its_pin_and_says_so(tmp_path):
    """`serve --host 0.0.0.0` makes a PIN unasked, says it and that the network reads along, and shows it at home."""
    folder = tmp_path / "logbook"
    words = [
        "--logbook",
        str(folder),
        "serve",
        "--host",
        "0.0.0.0",
        "--name",
        "pit-laptop.test",
        "--port",
        "0",
    ]
    command = [sys.executable, "-m", "bridge", *words, "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        try:
            said = ""
            while "the dashboard is at" not in said:
                line = process.stdout.readline()
                assert line, process.stderr.read()
                said += line
            port = int(re.search(r"the dashboard is at http://127\.0\.0\.1:(\d+)/", said)[1])
            pin = re.search(r"behind the PIN (\d{8}), just made", said)[1]
            own = ask(port, path="/door")
            # by a name that is not the loopback's, even this machine is another device
            other = f"pit-laptop.test:{port}"
            form = {"Origin": f"http://{other}", "Content_Type": "application/x-www-form-urlencoded"}
            outside = ask(port, Host=other)
            spoofed = ask(port, X_Forwarded_For="127.0.0.1")
            wrong = ask(port, "POST", "/door", urlencode({"pin": "31415926"}), Host=other, **form)
            right = ask(port, "POST", "/door", urlencode({"pin": pin}), Host=other, **form)
            inside = ask(port, Host=other, Cookie=right[1]["set-cookie"].split(";")[0])
        finally:
            process.terminate()
            rest = "".join(process.communicate(timeout=20))

    assert "unencrypted" in said
    assert f"http://pit-laptop.test:{port}/" in said
    assert own[0] == 200
    assert pin in own[2]
    assert "<svg" in own[2]
    assert (outside[0], outside[1]["location"]) == (303, "/door")
    assert spoofed[0] == 303
    assert wrong[0] == 403
    assert (right[0], inside[0]) == (303, 200)
    assert "server" not in {name.lower() for name in own[1]}
    assert pin not in rest
    assert pin not in (folder / "pin.json").read_text(encoding="utf-8")
