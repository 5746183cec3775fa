"""Photographs of plugs between page and logbook; a part of dashboard.data."""

import hashlib
import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np

from bridge.errors import BadFile, BadValue
from bridge.logbook import photos
from bridge.logbook.photos import StoredPicture, open_picture
from bridge.model import Photo
from bridge.plug.photo import PhotoReading, propose, read_photo
from bridge.plug.photo.strip import Point
from dashboard.cache import Cache
from dashboard.opened import Opened

View = Literal["cut", "magnifier"]
_NAME = re.compile(r"\d{4,9}-[0-9a-f]{16}\.(?:jpg|png)")
_STILL = "give the length of the nose from tip to seat, in mm; without it no depth can be said"


@dataclass(frozen=True)
class Asked:
    """What a person says of a picture."""

    view: View
    nose_mm: float | None
    tip: Point | None = None
    seat: Point | None = None
    rim_mm: float | None = None


@dataclass(frozen=True)
class Shown:
    """A picture that is kept, and what is to be seen on it.

    Attributes:
        file: its name in the logbook.
        width: [px].
        height: [px].
        tip: where the tool takes the tip to be [px]; None where it cannot tell.
        seat: as tip.
        photo: the row of the logbook; None where the nose's length is missing.
        found: what is read off it; None likewise.
    """

    file: str
    width: int
    height: int
    tip: Point | None
    seat: Point | None
    photo: Photo | None
    found: PhotoReading | None


class PhotoData(Opened):
    """Photographs: kept without place and device, and read as often as the marks are moved."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        # decoding a phone's picture takes longer than reading the ring off it; two are a few hundred MB at most
        self._pictures: Cache[StoredPicture] = Cache(2)

    def upload(self, label: str, number: int, data: bytes, asked: Asked) -> Shown:
        """Open, strip and keep a picture that came from a browser, and propose the marks.

        Raises:
            BadFile: it is no picture, is cut short or too large.
            BadValue: the plug was not in then.
        """
        picture = open_picture(data, "the picture")
        with self._reading() as logbook:
            nose_mm = asked.nose_mm or logbook.nose_length(label, number)
        found = propose(picture.pixels)
        tip, seat = (found.tip, found.seat) if found.tip and found.seat else (None, None)
        file = f"{number:04d}-{picture.sha256[:16]}{picture.ending}"
        self._pictures.get(file, lambda: picture)
        if nose_mm is None:  # kept all the same, so that it need not be sent again
            photos.keep(self.folder, number, picture)
            return Shown(file, picture.width, picture.height, tip, seat, None, None)
        told = Asked(asked.view, nose_mm)
        read = _read(picture, told)
        photo = self._keep(label, number, picture, told, read)
        return Shown(file, picture.width, picture.height, tip, seat, photo, read)

    def read_off(self, file: str, asked: Asked) -> PhotoReading:
        """Read the ring off a picture that is kept, by the marks as they stand.

        Raises:
            BadValue: the marks, the view or the nose's length cannot be.
            BadFile: there is no such picture.
        """
        return _read(self._picture(file), asked)

    def keep(self, label: str, number: int, file: str, asked: Asked) -> Photo:
        """Keep a picture once more, with what is read off it by these marks.

        Raises:
            BadValue: as ``read_off``, or the plug was not in then.
        """
        picture = self._picture(file)
        return self._keep(label, number, picture, asked, _read(picture, asked))

    def photo_bytes(self, file: str, side: int | None) -> tuple[bytes, str]:
        """Return a picture for the browser, made smaller where asked for, with its kind.

        Raises:
            BadFile: there is no such picture.
        """
        data = self._path(file).read_bytes()
        kind = "image/jpeg" if file.endswith(".jpg") else "image/png"
        if side is None:
            return data, kind
        from PIL import Image  # noqa: PLC0415  # start-up

        with Image.open(io.BytesIO(data)) as image:
            image.draft("RGB", (side, side))  # a JPEG is unpacked at an eighth where that is enough
            image.thumbnail((side, side))
            out = io.BytesIO()
            image.save(out, image.format or "PNG")
        return out.getvalue(), kind

    def _path(self, file: str) -> Path:
        path = self.folder / "photos" / file
        # the name is held to what the logbook writes, so that no other file can be asked for
        if _NAME.fullmatch(file) is None or not path.is_file():
            raise BadFile("there is no such picture in this logbook; choose it again")
        return path

    def _picture(self, file: str) -> StoredPicture:
        def load() -> StoredPicture:
            from PIL import Image  # noqa: PLC0415  # start-up

            path = self._path(file)
            data = path.read_bytes()
            with Image.open(io.BytesIO(data)) as image:
                pixels = np.asarray(image)
            return StoredPicture(pixels, data, path.suffix, hashlib.sha256(data).hexdigest())

        return self._pictures.get(file, load)

    def _keep(
        self, label: str, number: int, picture: StoredPicture, asked: Asked, found: PhotoReading
    ) -> Photo:
        answer: dict[str, Any] = found.to_json()
        with self._writing() as logbook:
            return logbook.add_photo(
                label,
                number,
                picture,
                view=asked.view,
                nose_mm=found.nose_mm,
                tip=asked.tip,
                seat=asked.seat,
                answer=answer,
            )


def _read(picture: StoredPicture, asked: Asked) -> PhotoReading:
    if asked.nose_mm is None:
        raise BadValue(_STILL)
    return read_photo(
        picture.pixels,
        nose_mm=asked.nose_mm,
        view=asked.view,
        tip=asked.tip,
        seat=asked.seat,
        rim_mm=asked.rim_mm if asked.view == "magnifier" else None,
    )
