"""The reading form's addresses: what a phone sends is written once, refused in one sentence, and never lost."""

import asyncio
import io
import struct
import zlib

import httpx
import numpy as np
import pytest
from PIL import Image

from bridge.logbook import Logbook
from dashboard.app import create_app
from tests.bridge.plug.photo.photo_scenes import Ring, Scene, render
from tests.dashboard.invented import fill

HERE = "http://127.0.0.1"
SEEN = {"ring": "seen", "ring_mm": "6,4", "ring_sd_mm": "", "view": "cut", "specks": "none"}
DEVICE, PLACE = b"somebody's own telephone", b"51 deg 28 min N"


def posted(app, path, *, origin=HERE, **more):
    """Return the answer to one POST."""

    async def post():
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url=HERE) as client:
            return await client.post(path, headers={"origin": origin}, **more)

    return asyncio.run(post())


def got(app, path):
    """Return the answer to one GET."""

    async def get():
        async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url=HERE) as client:
            return await client.get(path)

    return asyncio.run(get())


def read(app, values, *, label="B1", session=1, token="first"):
    """Send a reading as the form does."""
    body = {"label": label, "session": session, "token": token, "values": values}
    return posted(app, "/_plug/reading", json=body).json()


def sent(app, data, *, label="B1", session=1, nose_mm="14", view="cut"):
    """Send a picture as the form does."""
    asked = {"label": label, "session": session, "view": view, "nose_mm": nose_mm}
    return posted(app, "/_plug/photo", params=asked, content=data).json()


def readings(folder, session=1):
    """Return all readings of a session, corrected ones too."""
    with Logbook.open(folder, write=False) as logbook:
        return logbook.readings(session, all_of_them=True)


def photos(folder, session=1):
    """Return the photographs of a session."""
    with Logbook.open(folder, write=False) as logbook:
        return logbook.photos(session)


def packed(pixels, kind="JPEG", **more):
    """Return pixels as a file's bytes."""
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, kind, **more)
    return out.getvalue()


def bomb(side=30_000):
    """Return a PNG of a few bytes whose header says that it is far larger than any photograph."""

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")


def one_sentence(words):
    """Whether words are one sentence for a person: a capital, one full stop at its end, no trace of a program."""
    told = words.replace("...", "")
    return (
        words.lstrip("'")[:1].isalpha()
        and not words[:1].islower()
        and words.endswith(".")
        and ". " not in told
        and not any(sign in words for sign in ("Traceback", "Error", "--", "None"))
    )


@pytest.fixture
def app(logbook_folder):
    """Return the dashboard on the invented logbook."""
    return create_app(logbook_folder)


@pytest.fixture(scope="module")
def nose():
    """Return a picture of an upright nose of 14 mm with a ring at 7 mm."""
    return render(Scene(seed=4, width=480, height=400, angle=90.0, ring=Ring(7.0, dark=45.0))).pixels


@pytest.fixture(scope="module")
def kept(nose, tmp_path_factory):
    """Return a dashboard that has that picture for B1, and the picture's name; for looking only."""
    app = create_app(fill(tmp_path_factory.mktemp("kept") / "logbook"))
    return app, sent(app, packed(nose))["file"]


def test_a_reading_is_written_down(app, logbook_folder):
    """What the form holds reaches the logbook, a comma being a point, and the answer names its number."""
    answer = read(app, SEEN | {"strap_mark": "0.5", "wet": "yes"})
    last = readings(logbook_folder)[-1]

    assert answer["reading"] == last.id
    assert "which stays on record" in answer["saved"]
    assert (last.plug, last.ring_mm, last.strap_mark, last.wet) == ("B1", 6.4, 0.5, True)


def test_the_same_reading_sent_twice_is_written_once(app, logbook_folder):
    """A phone that lost the answer sends again; nothing is written twice, and it gets the first answer."""
    first, again = read(app, SEEN), read(app, SEEN)

    assert again == first
    assert len(readings(logbook_folder)) == 3


def test_what_was_changed_meanwhile_is_written(app, logbook_folder):
    """A reading that was changed after a lost answer is another one, and corrects the one that came through."""
    first = read(app, SEEN)
    second = read(app, SEEN | {"ring_mm": "6.9"})
    last = readings(logbook_folder)[-1]

    assert second["reading"] != first["reading"]
    assert (last.ring_mm, last.corrects) == (6.9, first["reading"])


@pytest.mark.parametrize(
    ("body", "names"),
    [
        ({"values": SEEN | {"ring_mm": "15"}}, "15 mm is deeper than the nose, which is 14 mm"),
        ({"values": SEEN | {"ring_mm": ""}}, "Give the depth of the ring"),
        ({"values": SEEN | {"ring_mm": "six"}}, "'six' is no number for the ring's depth"),
        ({"values": SEEN | {"ring_mm": "nan"}}, "the ring's depth"),
        ({"values": SEEN | {"strap_mark": "1.4"}}, "The heat mark, 1.4, must be from 0 to 1"),
        ({"values": SEEN | {"ring_mm": "-1"}}, "The ring's depth, \N{MINUS SIGN}1 mm, must be from 0 to 40"),
        ({"values": SEEN | {"specks": "silver"}}, "silver"),
        ({"values": SEEN, "session": 2}, "B1 was not in during session 2"),
        ({"values": SEEN, "session": "x"}, "which session"),
        ({"values": SEEN, "session": 99}, "99"),
        ({"values": SEEN, "label": "Z9"}, "Z9"),
        ({"values": "none"}, ""),
        ({}, ""),
    ],
)
def test_a_bad_reading_is_refused_in_one_sentence(app, logbook_folder, body, names):
    """Ring beyond the nose, words for numbers, a session that it was not in: one sentence, and nothing written."""
    answer = posted(app, "/_plug/reading", json={"label": "B1", "session": 1, "token": "t"} | body)

    assert answer.status_code == 200
    assert names in answer.json()["refused"]
    assert one_sentence(answer.json()["refused"])
    assert len(readings(logbook_folder)) == 2


def test_a_reading_before_its_plug_was_fitted(app, logbook_folder):
    """A plug that went in for session 2 cannot be read for session 1; the sentence says where it is."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        logbook.fit("C1", cylinder=1, session=2, state="new")
    refused = read(app, SEEN, label="C1", session=1)["refused"]

    assert "C1 was not in during session 1: it went in later" in refused
    assert one_sentence(refused)


def test_a_reading_after_the_order_was_lost_is_kept(app, logbook_folder):
    """A plug whose order was lost can be read: the reading stays with the plug."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        logbook.order_lost(1)

    assert "saved" in read(app, SEEN)
    assert readings(logbook_folder)[-1].ring_mm == 6.4


@pytest.mark.parametrize("body", [b"", b"{", b"[1, 2]", b'"x"', b"\xff\xfe"])
def test_what_is_no_form_is_refused(app, body):
    """A body that is no form of ours gets a sentence, not a fault."""
    answer = posted(app, "/_plug/reading", content=body)

    assert answer.status_code == 200
    assert one_sentence(answer.json()["refused"])


def test_a_foreign_page_writes_nothing(app, logbook_folder):
    """Another site's page that posts a reading, or a picture, is turned away by the gate."""
    for path in ("/_plug/reading", "/_plug/photo", "/_plug/photo/read", "/_plug/photo/keep"):
        assert posted(app, path, origin="http://elsewhere.example", json={}).status_code == 403
    assert len(readings(logbook_folder)) == 2


def test_a_picture_is_read_and_kept(app, logbook_folder, nose):
    """A picture with a ring at 7 mm is kept with the tool's answer, which is near it and is not a reading."""
    answer = sent(app, packed(nose))
    kept = photos(logbook_folder)[0]

    assert answer["saved"] == "Photograph 1 is kept, without place and device."
    assert "over into the form" in answer["result"]
    assert abs(kept.answer["ring_depth_mm"] - 7.0) < 0.6
    assert (answer["width"], answer["height"]) == (nose.shape[1], nose.shape[0])
    assert len(readings(logbook_folder)) == 2


def test_place_and_device_are_stripped(app, logbook_folder, nose):
    """What a phone writes beside the picture is in the file sent, and in none that is kept or given out."""
    exif = Image.Exif()
    exif[0x010F] = DEVICE.decode()
    exif.get_ifd(0x8825)[29] = PLACE.decode()
    data = packed(nose, exif=exif, comment=DEVICE)
    assert DEVICE in data
    assert PLACE in data
    answer = sent(app, data)
    kept = [file.read_bytes() for file in (logbook_folder / "photos").iterdir()]
    given = [got(app, answer["url"]).content, got(app, f"{answer['url']}?side=240").content]

    assert len(kept) == 1
    for one in (*kept, *given):
        assert DEVICE not in one
        assert PLACE not in one
        assert len(Image.open(io.BytesIO(one)).getexif()) == 0


def test_a_turned_picture_stands_upright(app, nose):
    """A picture stored on its side, with the tag that says so, comes back upright and is read as such."""
    exif = Image.Exif()
    exif[0x0112] = 6
    answer = sent(app, packed(np.ascontiguousarray(np.rot90(nose, 1)), exif=exif))
    shown = Image.open(io.BytesIO(got(app, answer["url"]).content))

    assert (answer["width"], answer["height"]) == shown.size == (nose.shape[1], nose.shape[0])
    assert "over into the form" in answer["result"]


@pytest.mark.parametrize(
    ("data", "names"),
    [
        (b"", "empty"),
        (b"this is a letter, not a picture", "no picture"),
        (b"\x89PNG\r\n\x1a\n" + b"\x00" * 60, "picture"),
        (bomb(), "80 million pixels"),
        ("half", "cut short"),
        ("small", "too few"),
    ],
)
def test_a_bad_picture_is_refused_in_one_sentence(app, logbook_folder, nose, data, names):
    """None, cut short, a bomb, too small: one sentence with the mend; nothing is kept, and the form goes on."""
    if data == "half":
        whole = packed(nose)
        data = whole[: len(whole) // 2]
    elif data == "small":
        data = packed(nose[:20, :20])
    refused = sent(app, data)["refused"]

    assert names in refused
    assert one_sentence(refused)
    assert photos(logbook_folder) == []
    assert not (logbook_folder / "photos").exists() or not list((logbook_folder / "photos").iterdir())
    assert "saved" in read(app, SEEN)


def test_a_picture_for_a_session_it_was_not_in(app, logbook_folder, nose):
    """A picture of a plug that was not in then is refused as a reading of it is."""
    assert "B1 was not in during session 2" in sent(app, packed(nose), session=2)["refused"]
    assert photos(logbook_folder, 2) == []


def test_a_picture_too_large_is_refused_while_it_comes(app, monkeypatch):
    """A picture larger than any is refused in a sentence before all of it is taken in."""
    monkeypatch.setattr("dashboard.plug_routes.MOST_BYTES", 1_000_000)

    assert "more than 1 MB" in sent(app, b"x" * 1_200_000)["refused"]


@pytest.mark.parametrize("path", ["/_plug/reading", "/_plug/photo/read", "/_plug/photo/keep"])
def test_a_form_too_large_is_refused_while_it_comes(app, logbook_folder, path):
    """A form larger than any is refused in a sentence, and no more of it is taken in than a form may have."""
    taken = []

    async def endless():
        for _ in range(1_000):
            taken.append(1)
            yield b" " * 10_000

    answer = posted(app, path, content=endless()).json()

    assert "more than 64 kB" in answer["refused"]
    assert one_sentence(answer["refused"])
    assert len(taken) < 10
    assert len(readings(logbook_folder)) == 2


def test_a_form_nested_beyond_reading_is_refused(app):
    """Brackets without end are no form of ours, and no fault either."""
    answer = posted(app, "/_plug/reading", content=b"[" * 60_000)

    assert answer.status_code == 200
    assert one_sentence(answer.json()["refused"])


def test_marks_are_read_anew_and_kept(app, logbook_folder, nose):
    """Moved marks change the answer, and keeping them writes a second row of the same file."""
    answer = sent(app, packed(nose))
    scene = render(Scene(seed=4, width=480, height=400, angle=90.0, ring=Ring(7.0, dark=45.0)))
    marks = {
        "label": "B1",
        "session": 1,
        "file": answer["file"],
        "view": "cut",
        "nose_mm": "14",
        "rim_mm": "",
        "tip": list(scene.tip),
        "seat": list(scene.seat),
    }
    right = posted(app, "/_plug/photo/read", json=marks).json()
    half = posted(app, "/_plug/photo/read", json=marks | {"nose_mm": "7"}).json()
    kept = posted(app, "/_plug/photo/keep", json=marks).json()

    assert "Take 7." in right["result"] or "Take 6.9" in right["result"]
    assert right["result"] != half["result"]
    assert "your marks" in kept["saved"]
    assert "always goes first" in kept["saved"]
    rows = photos(logbook_folder)
    assert [row.file for row in rows] == [answer["file"]] * 2
    assert rows[-1].tip == pytest.approx(scene.tip, abs=0.06)


@pytest.mark.parametrize(
    ("change", "names"),
    [
        ({"file": "../logbook.sqlite"}, "no such picture"),
        ({"file": "0001-0000000000000000.jpg"}, "no such picture"),
        ({"file": None}, "no such picture"),
        ({"view": "sideways"}, "shell cut away"),
        ({"nose_mm": ""}, "length of the nose"),
        ({"nose_mm": "x"}, "'x' is no number"),
        ({"tip": ["a", 1]}, "mark"),
        ({"tip": [5, 5], "seat": [5, 5]}, ""),
        ({"tip": [5, 5], "seat": None}, ""),
    ],
)
def test_marks_that_cannot_be_are_refused(kept, change, names):
    """A file that is none of the logbook's, no nose length, marks on one spot: one sentence each, no options named."""
    app, file = kept
    marks = {"label": "B1", "session": 1, "file": file, "view": "cut", "nose_mm": "14"}
    refused = posted(app, "/_plug/photo/read", json=marks | change).json()["refused"]

    assert names in refused
    assert one_sentence(refused)


@pytest.mark.parametrize(
    "path",
    [
        "/_plug/photo/1/0001-0000000000000000.jpg",
        "/_plug/photo/1/logbook.sqlite",
        "/_plug/photo/1/..%2Flogbook.sqlite",
    ],
)
def test_no_other_file_can_be_asked_for(app, path):
    """Only pictures that the logbook named are given out; nothing else of its folder."""
    answer = got(app, path)

    assert answer.status_code == 404
    assert b"SQLite" not in answer.content


def test_without_a_nose_length_the_picture_is_kept(app, logbook_folder, nose):
    """A bike without a nose length keeps the picture and asks for the length, so it need not be sent again."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        bare = logbook.bikes()[0][0]
        plug = bare.plug.model_copy(update={"nose_mm": None})
        logbook.add_bike(bare.model_copy(update={"plug": plug}))
    answer = sent(app, packed(nose), nose_mm="")

    assert "Give the length of the nose" in answer["result"]
    assert (logbook_folder / "photos" / answer["file"]).exists()
