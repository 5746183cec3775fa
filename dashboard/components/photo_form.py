"""A photograph of the nose on the reading form: upload, two marks to drag, and what the tool reads off it."""

import json

from bridge.model import Photo
from bridge.plug.beside_eye import apart
from bridge.plug.photo.result import LIMITS, YOURS_WINS
from dashboard.components.markup import choice_field, element, number_field, said
from dashboard.components.parts import as_sentence
from dashboard.figures import choices
from dashboard.figures.lightness import lightness_svg
from dashboard.pictures import AtHand

STRIPPED = (
    "The picture is kept without the place, the time, the device and all else that a phone writes beside it: made"
    " anew from its pixels alone. It stays on the machine that serves this page."
)
_VIEWS = (("cut", "shell cut away"), ("magnifier", "down its mouth"))


def markup(hand: AtHand) -> str:
    """Return the part of the form for photographs, with those that are kept already."""
    kept = [_kept(photo) for photo in hand.photos]
    differ = apart(hand.life.reading, hand.photos)
    return element(
        "details",
        said(
            "summary",
            f"Photograph{f': {len(kept)} kept' if kept else ''}{', your eye differs' if differ else ''}",
        ),
        *(said("p", as_sentence(words), class_="caution-line") for words in differ),
        said("p", STRIPPED, class_="quiet hint"),
        element(
            "div",
            _chooser("Take a picture", "photo-camera", capture="environment"),
            _chooser("Choose a picture", "photo-file"),
            class_="choosers",
        ),
        element("div", class_="said", role="status", aria_live="polite", data_part="photo-said"),
        _desk(hand.life.nose_mm),
        element("ul", *kept, class_="kept-photos") if kept else "",
        _limits(),
        class_="photo",
        data_part="photo",
    )


def _chooser(words: str, key: str, capture: str | None = None) -> str:
    """Return a button that opens the camera, or the files, of a phone."""
    chooser = element("input", type="file", accept="image/*", capture=capture, id_=key)
    return element("label", chooser, said("span", words), class_="chooser", for_=key)


def _desk(nose_mm: float | None) -> str:
    """Return the place where the picture is measured, hidden until there is one."""
    return element(
        "div",
        said(
            "p",
            "Drag the two marks to the tip of the nose and to where it sits in the shell: a mark's point lies beside"
            " its grip, so that the finger does not hide it. Arrow keys move a mark, too.",
            class_="hint quiet",
        ),
        element("div", class_="photo-stage", data_part="stage"),
        choice_field(
            "photo_view",
            "The picture shows",
            _VIEWS,
            "cut",
            drawings=choices.drawn("view", ("magnifier", "cut")),
        ),
        number_field("photo_nose_mm", "Nose length, tip to seat", nose_mm, "mm"),
        element(
            "div",
            number_field(
                "photo_rim_mm",
                "Seen down to, from the tip",
                None,
                "mm",
                "Down the mouth the seat is hidden: put its mark where the rim hides the nose, and say how deep that"
                " is",
            ),
            data_part="rim",
            hidden="",
        ),
        element("div", class_="photo-result", role="status", aria_live="polite", data_part="photo-result"),
        class_="photo-desk",
        hidden="",
        data_part="desk",
    )


def _limits() -> str:
    rows = [said("li", words) for words in (*LIMITS, YOURS_WINS)]
    return element("div", said("p", "Known limits"), element("ul", *rows), class_="quiet limits")


def _kept(photo: Photo) -> str:
    """Return one photograph that is kept, with what was read off it."""
    where = f"/_plug/photo/{photo.session}/{photo.file}"
    picture = element(
        "a",
        element(
            "img", src=f"{where}?side=240", alt=f"Photograph {photo.id} of plug {photo.plug}", loading="lazy"
        ),
        href=where,
        target="_blank",
    )
    return element("li", picture, said("span", in_short(photo)))


def in_short(photo: Photo) -> str:
    """Return what was read off a kept photograph."""
    answer = photo.answer
    seen = answer.get("ring")
    if seen == "seen" and answer.get("ring_depth_mm") is not None:
        sd = answer.get("ring_depth_sd_mm") or 0.0
        words = f"the tool sees a ring at {answer['ring_depth_mm']:.1f} mm, give or take {sd:.1f} mm"
    else:
        words = "the tool sees no ring" if seen == "none" else "the tool cannot tell"
    by = "your marks" if photo.tip is not None else "its own marks"
    return f"Photograph {photo.id}: {words} ({by})."


def result(
    answer: dict[str, object], words: list[str], profile: tuple[list[float], list[float]] | None
) -> str:
    """Return what the tool reads off a picture, with the button that takes it over.

    Args:
        answer: the keys of the command line's answer.
        words: the answer and why, as sentences.
        profile: depths [mm] and lightness [L*] along the nose.
    """
    said_so = [said("p", as_sentence(one), class_="lead" if n == 0 else None) for n, one in enumerate(words)]
    depth = answer.get("ring_depth_mm")
    sd = answer.get("ring_depth_sd_mm")
    curve = ""
    if profile is not None:
        at = (float(str(depth)), float(str(sd))) if depth is not None and sd is not None else None
        curve = lightness_svg(*profile, at)
    take, value = _to_take(answer)
    button = said("button", take, type="button", class_="take", data_take=json.dumps(value)) if value else ""
    keep = said("button", "Keep the picture with these marks", type="button", class_="quiet-button")
    return element("div", *said_so, curve, button, keep)


def _to_take(answer: dict[str, object]) -> tuple[str, dict[str, object] | None]:
    if answer.get("ring") == "seen":
        depth, sd = float(str(answer["ring_depth_mm"])), float(str(answer["ring_depth_sd_mm"]))
        words = f"Take {depth:.1f} mm, give or take {sd:.1f}, over into the form"
        return words, {
            "ring": "seen",
            "ring_mm": f"{depth:.1f}",
            "ring_sd_mm": f"{sd:.1f}",
            "view": answer["view"],
        }
    if answer.get("ring") == "none":
        return (
            "Take \N{LEFT DOUBLE QUOTATION MARK}no ring\N{RIGHT DOUBLE QUOTATION MARK} over into the form",
            {
                "ring": "none",
                "view": answer["view"],
            },
        )
    return "", None
