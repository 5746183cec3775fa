"""Photographs on their way into the logbook: opened with care, turned upright, and stripped of all but the picture.

What a phone writes beside the picture (place, device, owner, thumbnail, colour profile) is never kept: the stored
file is made anew from the pixels alone.
"""

import hashlib
import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bridge.errors import BadFile
from bridge.logbook import files

if TYPE_CHECKING:
    from PIL import Image

FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "BMP", "GIF", "PPM")
"""What is opened; other decoders are never reached by a stranger's file."""
MOST_PIXELS = 80_000_000
"""A phone's largest pictures have 50 million; unpacked, this many take a quarter of a gigabyte."""
MOST_BYTES = 120_000_000
LEAST_SIDE = 32
QUALITY = 95
"""Of the stored JPEG: its errors are then far below a ring's darkness."""
JPEGS = ("JPEG", "MPO")
"""A phone's JPEG that carries a second picture, for depth, is opened as the latter."""


@dataclass(frozen=True)
class StoredPicture:
    """A picture as it is looked at and as it is kept."""

    pixels: NDArray[Any]
    """(h, w) or (h, w, 3), upright, sRGB of 8 bits, or grey of 16."""
    data: bytes
    """The file to keep: the upright pixels and nothing else."""
    ending: str
    """``.jpg`` or ``.png``."""
    sha256: str
    """Of ``data``."""

    @property
    def width(self) -> int:
        """In pixels."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """In pixels."""
        return int(self.pixels.shape[0])


def place(folder: Path, session: int, picture: StoredPicture) -> Path:
    """Return where a picture for a session lies in a logbook."""
    return folder / "photos" / f"{session:04d}-{picture.sha256[:16]}{picture.ending}"


def keep(folder: Path, session: int, picture: StoredPicture) -> Path:
    """Put a picture's file into the logbook's folder; the same picture again is the same file.

    Returns:
        Where it lies.

    Raises:
        DiskTrouble: the disk would not take it.
    """
    path = place(folder, session, picture)
    with files.placed(path) as beside:
        beside.write_bytes(picture.data)
    return path


def load_picture(path: Path) -> StoredPicture:
    """Open a picture's file; see ``open_picture``.

    Raises:
        BadFile: it is not there, too large, or no picture that can be read.
    """
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise BadFile(
                f"{path} has {size / 1e6:.0f} MB, more than a picture needs; save it as a JPEG, then try again"
            )
        data = path.read_bytes()
    except OSError as error:
        raise BadFile(
            f"{path} cannot be read ({error.strerror or error}); check its name, and that it is a file"
        ) from None
    return open_picture(data, str(path))


def open_picture(data: bytes, name: str) -> StoredPicture:
    """Open a picture, turn it as its orientation tag says, and strip it of everything else.

    Args:
        data: the file as it came.
        name: what to call it in a message.

    Raises:
        BadFile: it is no picture, is cut short, is far too large once unpacked, or moves.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError  # noqa: PLC0415  # start-up

    too_large = (
        f"{name} would unpack to more than {MOST_PIXELS // 1_000_000} million pixels, which no photograph of a plug"
        " needs; make it smaller, or crop it to the nose"
    )
    if not data:
        raise BadFile(f"{name} is empty; choose the picture again")
    Image.init()  # or only some of the formats would be known
    try:
        with warnings.catch_warnings():
            # Pillow only warns at sizes that are refused here; its other words on odd tags do not matter
            warnings.simplefilter("ignore")
            image = Image.open(io.BytesIO(data), formats=FORMATS)
    except Image.DecompressionBombError:
        raise BadFile(too_large) from None
    except UnidentifiedImageError:
        raise BadFile(f"{name} is no picture that can be read; give a JPEG, PNG, TIFF or WebP file") from None
    except Exception as error:  # noqa: BLE001  # decoders raise what they like at a damaged header
        raise _damaged(name, error) from None
    with image:
        if image.width * image.height > MOST_PIXELS:  # known from the header: nothing is unpacked yet
            raise BadFile(too_large)
        if min(image.size) < LEAST_SIDE:
            raise BadFile(
                f"{name} has {image.width} by {image.height} pixels, too few to see a ring; take a larger picture"
            )
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                # a phone's MPO carries a second picture for depth; the first one is the photograph
                several = image.format != "MPO" and getattr(image, "n_frames", 1) > 1
                image.load()
                # a tag that is damaged turns nothing
                upright = _upright(image, ImageOps)
                pixels = _pixels(upright)
        except Exception as error:  # noqa: BLE001  # as above, for the data behind the header
            raise _damaged(name, error) from None
        if several:
            raise BadFile(f"{name} holds several pictures or moves; give one still picture")
        ending = ".jpg" if image.format in JPEGS else ".png"
    kept = _packed(pixels, ending)
    return StoredPicture(pixels, kept, ending, hashlib.sha256(kept).hexdigest())


def _damaged(name: str, error: Exception) -> BadFile:
    reason = str(error).splitlines()[0][:80] if str(error) else type(error).__name__
    return BadFile(f"{name} is damaged or cut short ({reason}); copy it again from the camera")


def _upright(image: "Image.Image", operations: Any) -> "Image.Image":  # noqa: ANN401  # a module of Pillow's
    try:
        turned: Image.Image = operations.exif_transpose(image)
    except Exception:  # noqa: BLE001  # a tag that cannot be read turns nothing
        return image
    return turned


def _pixels(image: "Image.Image") -> NDArray[Any]:
    """Return a picture of any kind as sRGB of 8 bits or grey of 8 or 16."""
    from PIL import Image  # noqa: PLC0415  # start-up

    if image.mode.startswith("I"):  # 16 bits, whole numbers
        return np.asarray(np.clip(np.asarray(image), 0, 65535), dtype=np.uint16)
    if image.mode == "F":
        values = np.nan_to_num(np.asarray(image, dtype=np.float64))
        return np.asarray(np.clip(values / max(float(values.max()), 1e-9), 0.0, 1.0) * 65535, dtype=np.uint16)
    if image.mode in ("1", "L"):
        return np.asarray(image.convert("L"))
    if image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info:
        over = image.convert("RGBA")  # what is clear is shown as on white paper
        return np.asarray(Image.alpha_composite(Image.new("RGBA", over.size, "white"), over).convert("RGB"))
    return np.asarray(image.convert("RGB"))


def _packed(pixels: NDArray[Any], ending: str) -> bytes:
    """Return a new file made of pixels alone."""
    from PIL import Image  # noqa: PLC0415  # start-up

    shown = (pixels // 257).astype(np.uint8) if pixels.dtype == np.uint16 else pixels
    out = io.BytesIO()
    picture = Image.fromarray(shown)
    if ending == ".jpg":
        picture.save(out, "JPEG", quality=QUALITY, subsampling=0)
    else:
        picture.save(out, "PNG", compress_level=4)
    return out.getvalue()
