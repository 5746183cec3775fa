"""Pictures on their way in: every kind is opened upright and stripped, and what is no picture is refused."""

import hashlib
import io
import struct
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageOps

from bridge.errors import BadFile
from bridge.logbook.photos import MOST_PIXELS, load_picture, open_picture

PLACE = b"51 deg 28 min N"
OWNER = "somebody's own telephone"


def scene():
    """A picture whose four corners differ, so that a wrong turn shows."""
    x, y = np.meshgrid(np.linspace(0, 200, 90), np.linspace(0, 250, 60))
    return np.stack([x, y, 0.5 * (x + y)], axis=-1).astype(np.uint8)


def packed(image, kind="PNG", **more):
    """Return an image as a file's bytes."""
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def png(width, height, data=b"", colour=0):
    """Return a PNG file by hand: signature, header, data, end."""

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = struct.pack(">IIBBBBB", width, height, 8, colour, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


@pytest.mark.parametrize("turn", range(1, 9))
def test_a_picture_is_turned_as_its_tag_says(turn):
    """A file stored turned, with the tag that says so, comes out as the upright scene (published: EXIF 2.32)."""
    # what a camera writes for each tag: the scene moved the other way
    stored = {
        1: lambda a: a,
        2: lambda a: a[:, ::-1],
        3: lambda a: a[::-1, ::-1],
        4: lambda a: a[::-1],
        5: lambda a: a.transpose(1, 0, 2),
        6: lambda a: np.rot90(a, 1),
        7: lambda a: a[::-1, ::-1].transpose(1, 0, 2),
        8: lambda a: np.rot90(a, -1),
    }[turn](scene())
    exif = Image.Exif()
    exif[0x0112] = turn
    data = packed(Image.fromarray(np.ascontiguousarray(stored)), "PNG", exif=exif)
    picture = open_picture(data, "turned.png")

    np.testing.assert_array_equal(picture.pixels, scene())
    assert ImageOps.exif_transpose(Image.open(io.BytesIO(picture.data))).size == (90, 60)


def test_everything_but_the_picture_is_stripped():
    """Place, device, owner, comment, thumbnail and colour profile are in the file given and not in the one kept."""
    exif = Image.Exif()
    exif[0x010F] = OWNER
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[29] = PLACE.decode()
    data = packed(
        Image.fromarray(scene()), "JPEG", exif=exif, comment=OWNER.encode(), icc_profile=b"profile" + PLACE
    )
    assert OWNER.encode() in data
    assert PLACE in data
    picture = open_picture(data, "phone.jpg")
    kept = Image.open(io.BytesIO(picture.data))

    assert OWNER.encode() not in picture.data
    assert PLACE not in picture.data
    assert len(kept.getexif()) == 0
    assert not {"exif", "icc_profile", "comment", "gps"} & kept.info.keys()
    assert kept.size == (60, 90)
    assert picture.sha256 == hashlib.sha256(picture.data).hexdigest()


def test_the_same_picture_is_kept_as_the_same_file():
    """Two files that differ only in what is stripped give the same bytes, so a picture is kept once."""
    exif = Image.Exif()
    exif[0x010F] = OWNER
    plain, told = (packed(Image.fromarray(scene()), "PNG", exif=e) for e in (Image.Exif(), exif))

    assert plain != told
    assert open_picture(plain, "a").sha256 == open_picture(told, "b").sha256


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB", "RGBA", "LA", "I;16", "CMYK", "YCbCr"])
def test_every_kind_of_picture_comes_out_as_lightness_or_colour(mode):
    """Bitmap, grey, palette, colour, clear, 16-bit, CMYK and YCbCr pictures all keep their light and dark."""
    ramp = np.tile(np.linspace(0, 255, 120).astype(np.uint8), (60, 1))
    kind = {"CMYK": "JPEG", "YCbCr": "JPEG"}.get(mode, "PNG")
    image = (
        Image.fromarray(ramp.astype(np.uint16) * 257)
        if mode == "I;16"
        else Image.fromarray(ramp).convert(mode)
    )
    pixels = open_picture(packed(image, kind), mode).pixels.astype(float)
    grey = pixels if pixels.ndim == 2 else pixels.mean(axis=2)
    light = grey / (65535.0 if mode == "I;16" else 255.0)

    assert light.shape == (60, 120)
    assert light[:, -20:].mean() - light[:, :20].mean() > 0.7


def test_what_is_clear_is_white():
    """A picture cut out of its background stands on white, not on what its clear pixels hide."""
    clear = np.zeros((60, 60, 4), dtype=np.uint8)

    assert open_picture(packed(Image.fromarray(clear)), "clear.png").pixels.min() == 255


def test_a_decompression_bomb_is_refused_by_its_header():
    """A file of a few bytes that says it is far larger than a photograph is refused before it is unpacked."""
    for side in (10_000, 30_000, 2_000_000):
        with pytest.raises(BadFile, match=r"would unpack to more than 80 million pixels.*make it smaller"):
            open_picture(png(side, side), "bomb.png")
    assert MOST_PIXELS < 10_000**2


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_a_picture_cut_short_is_refused(kind):
    """Half a file is refused as damaged, with the mend, whatever its kind."""
    noise = np.random.default_rng(1).integers(0, 255, (200, 200, 3)).astype(np.uint8)
    data = packed(Image.fromarray(noise), kind)

    with pytest.raises(
        BadFile, match=r"half\.bin is (damaged or cut short|no picture).*(copy it again|give a JPEG)"
    ):
        open_picture(data[: len(data) // 2], "half.bin")


@pytest.mark.parametrize("kind", ["GIF", "PNG", "WEBP", "TIFF"])
def test_what_moves_is_refused(kind):
    """A file of several pictures is no photograph of a plug."""
    still = Image.fromarray(scene())
    data = packed(still, kind, save_all=True, append_images=[still.rotate(180)])

    with pytest.raises(BadFile, match="several pictures or moves; give one still picture"):
        open_picture(data, "moving")


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty; choose the picture again"),
        (b"t_s,rpm\n0,5000\n", "is no picture that can be read; give a JPEG"),
        (b"%PDF-1.7\n%%EOF", "is no picture that can be read"),
        (packed(Image.fromarray(scene()[:20, :20])), "too few to see a ring; take a larger picture"),
    ],
    ids=["empty", "a log", "a document", "tiny"],
)
def test_what_is_no_picture_is_refused(data, says):
    """Nothing, a log, a document and a stamp are refused, each by one sentence."""
    with pytest.raises(BadFile, match=says) as refused:
        open_picture(data, "given")
    assert "\n" not in str(refused.value)


def test_a_file_that_is_not_there_is_refused_by_name(tmp_path):
    """A missing file and a folder are refused with their name."""
    for path in (tmp_path / "nowhere.jpg", tmp_path):
        with pytest.raises(BadFile, match=path.name):
            load_picture(path)


@given(st.binary(max_size=300), st.integers(0, 400), st.sampled_from(["JPEG", "PNG"]))
def test_damage_gives_a_picture_or_a_sentence(junk, at, kind):
    """Whatever bytes are put over a picture, it is opened or refused by the one error for a bad file."""
    data = bytearray(packed(Image.fromarray(scene()), kind))
    data[at : at + len(junk)] = junk
    try:
        picture = open_picture(bytes(data), "junk")
    except BadFile as error:
        refused = str(error)
        size = 0
    else:
        refused = ""
        size = picture.pixels.size
    assert (size > 0) != bool(refused)
    assert "\n" not in refused
