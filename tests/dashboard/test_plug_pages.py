"""The plug's page, the box, the labels and the ring scale without a browser."""

import asyncio
import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape

import pytest
import segno
from dash import Dash

from bridge.errors import UnknownThing
from bridge.logbook import Logbook
from bridge.model import Bike, Photo
from bridge.model.plug import RING_SD_MM
from bridge.plug.evidence import EVIDENCE, evidence_of
from bridge.plug.rules import RULES
from dashboard.components import judged, meanings, photo_form, reading_form, story
from dashboard.components.findings import section
from dashboard.data import Source
from dashboard.figures import choices
from dashboard.figures.code import QUIET, code_svg
from dashboard.pages import box, labels, plug, plugs, scale, session
from tests.dashboard.invented import add_session, ride, twin


def shown(part):
    """Return a component as text: tags, words and attributes alike."""
    return json.dumps(part.to_plotly_json(), default=lambda one: one.to_plotly_json(), ensure_ascii=False)


def page(module, folder, path):
    """Return a page's layout as text."""
    route = module.register(Dash("test"), Source(folder))
    return shown(asyncio.run(route.layout(route.pattern.fullmatch(path), {})))


def callback_of(app, output):
    """Return the coroutine behind an output, as the page registered it."""
    found = next(one for key, one in app.callback_map.items() if output in key)
    return found["callback"].__wrapped__


@pytest.fixture
def hand(logbook_folder):
    """Return plug B1 as its form has it."""
    return Source(logbook_folder).at_hand("B1", 1)


@pytest.mark.parametrize("typed", ["B1", "b1", " b 1 ", "b%201", "B1/"])
def test_a_label_opens_its_plug(logbook_folder, typed):
    """However a label is typed, the plug's page opens with its reading form."""
    text = page(plug, logbook_folder, f"/plug/{typed}")

    assert "Plug B1" in text
    assert 'data-label=\\"B1\\"' in text
    assert "cylinder 1, session 1, Hollow Lane" in text


def test_a_label_that_is_none_names_the_nearest(logbook_folder):
    """A bad label is one sentence of the bridge's, which the shell puts on the page, with the nearest label."""
    with pytest.raises(UnknownThing, match=r"there is no plug B11; .*B1"):
        page(plug, logbook_folder, "/plug/B11")


def test_a_label_with_a_slash_has_its_page(logbook_folder):
    """A label that looks like a path, or like markup, goes into its address and back."""
    label = 'D/1 <b>"&?#%'
    with Logbook.open(logbook_folder, write=True) as logbook:
        logbook.new_plugs([label])
    text = page(plug, logbook_folder, story.page_of(label))

    assert "It was in no engine yet" in text
    assert "Choose the session" in text


def test_two_labels_of_old_that_differ_in_blanks_are_two(logbook_folder):
    """The very same label goes before one that only reads alike."""
    source = Source(logbook_folder)

    assert source.label("B2") == "B2"
    assert source.label("b 2") == "B2"


def test_a_plug_of_the_box_has_no_form(logbook_folder):
    """A new plug was in no engine, so its page says why there is nothing to read, in a sentence."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        logbook.new_plugs(["D1"])
    text = page(plug, logbook_folder, "/plug/D1")

    assert "It was in no engine yet, so there is nothing to read on it." in text
    assert "reading-form" not in text


def test_the_life_is_told_in_order(logbook_folder):
    """Fitted, read, pulled: each with its session, and the hours on it."""
    text = page(plug, logbook_folder, "/plug/B1")
    where = [text.index(f'"{word}"') for word in ("Fitted", "Read", "Pulled")]

    assert where == sorted(where)
    assert "of running on it" in text


def test_the_form_holds_the_last_reading(hand):
    """The form comes filled with what was read, so that a correction changes what is wrong and nothing else."""
    text = reading_form.markup(hand)

    assert re.search(r'name="ring_mm"[^>]*value="6.8"', text) or re.search(
        r'value="6.8"[^>]*name="ring_mm"', text
    )
    assert "Write a corrected reading" in text
    assert "The earlier reading stays on record." in text
    assert f'data-nose="{hand.life.nose_mm:g}"' in text


def test_the_cautions_stand_on_the_form(hand):
    """Hot plug and head, high voltage and fuel vapour stand on every form that has a plug in the hand."""
    text = reading_form.markup(hand)

    for word in ("cool", "ignition off", "shock", "vapour", "fire"):
        assert word in text


def test_the_browser_looks_up_what_the_scale_says(hand):
    """The table that the drawing reads is the ring scale's own, for each way of looking, to four decimals."""
    table = json.loads(unescape(re.search(r'data-scale="([^"]*)"', reading_form.markup(hand))[1]))

    assert table.keys() == RING_SD_MM.keys()
    for view, rows in table.items():
        assert rows[0][0] == 0.0
        assert rows[-1][0] == hand.life.nose_mm
        for depth, mean, low, high in rows:
            expected, budget = hand.scale.lambda_at(depth, RING_SD_MM[view])
            assert (mean, low, high) == pytest.approx(
                (expected, *(expected + end for end in budget.interval(0.95))), abs=1e-4
            )
    # deeper is leaner
    means = [row[1] for row in table["cut"]]
    assert means == sorted(means)


def test_each_answer_has_its_drawing(hand):
    """Every answer of every question shows a small drawing, and no two answers of one question the same."""
    asked = {
        "ring": [key for key, _ in reading_form.RINGS],
        "view": [key for key, _ in reading_form.VIEWS],
        "specks": [key for key, _ in reading_form.SPECKS],
        "edge": [key for key, _ in reading_form.EDGES],
        **{name: ["not-looked", "no", "yes"] for name in ("glaze", "blisters", "wet")},
    }
    text = reading_form.markup(hand)
    for what, values in asked.items():
        drawn = [choices.small(what, value) for value in values]
        assert all("<svg" in one for one in drawn)
        assert len(set(drawn)) == len(drawn)
        assert all(one in text for one in drawn)


def test_every_row_of_evidence_has_its_answer_on_the_form(hand):
    """Each mark's meaning stands beside its answer with "may indicate", its caution and where it comes from."""
    text = unescape(reading_form.markup(hand))

    assert meanings.WHEN.keys() == {row.key for row in EVIDENCE}
    for row in EVIDENCE:
        told = re.search(rf'<p[^>]*data-key="{row.key}"[^>]*>(.*?)</p>', text)[1]
        assert f"May indicate {row.may_indicate}" in told
        assert row.caution[1:] in told
        assert row.status in told


@pytest.mark.parametrize("row", EVIDENCE, ids=lambda row: row.key)
def test_the_form_asks_what_the_table_asks(hand, row):
    """An answer that shows a meaning on the form is one that the bridge takes as that evidence, and the other way."""
    when = meanings.WHEN[row.key]
    reading = hand.life.reading
    typed = {"yes": True}.get(when.is_, when.is_)
    if when.over is not None or when.under is not None:
        low, high = when.over or 0.0, 1.0 if when.under is None else when.under
        typed = (low + high) / 2.0
    has = replace(reading, **{when.field: typed or "tan"})
    bare = replace(reading, **{when.field: None if when.field != "specks" else "none"})

    assert row.key in {one.evidence.key for one in evidence_of(has)}
    assert row.key not in {one.evidence.key for one in evidence_of(bare)}


def test_aluminium_stops_all_talk_of_leaner(logbook_folder):
    """Aluminium specks stop on the form, in the headline, in the cautions and in the list of what was seen."""
    source = Source(logbook_folder)
    source.read("B1", session=1, ring_mm=6.8, view="cut", specks="aluminium")
    picture = source.picture(1)
    text = shown(section(picture))

    assert meanings.STOP.startswith("Stop. Aluminium specks may indicate detonation")
    assert "Aluminium on the plug: stop" in text
    assert "aluminium specks may indicate detonation" in text.lower()
    assert '"className": "stops"' in text
    assert "go leaner only in small steps" not in text
    assert "go leaner only in small steps" in shown(section(source.picture(2)))


def test_every_rule_stands_on_the_session_page(logbook_folder):
    """The session's page lists each rule with its result and figure, what fails first, marked common practice."""
    source = Source(logbook_folder)
    used = source.comparison(1).cylinders[1]
    text = shown(judged.rules(used))
    names = [one.rule.capitalize() for one in used.validity.rules]

    assert len(names) >= len(RULES) - 2
    assert all(f'"{name}"' in text for name in names)
    assert text.index('"fails"') < text.index('"passes"')
    assert "The reading does not count: of " in text
    assert "Next time: " in text
    assert "fit a new or cleaned one" in text
    assert "common practice" in text
    assert all(one.figure in text for one in used.validity.rules)
    sheet = page(session, logbook_folder, "/session/1")
    assert "The reading counts: of " in sheet
    assert "The reading does not count: of " in sheet


def test_a_plug_that_was_not_read_is_judged_by_the_log(logbook_folder):
    """Before a plug is read the page says whether a reading would count, without failing it for not being read."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        logbook.fit("C1", cylinder=1, session=2, state="new")
        logbook.fit("C2", cylinder=2, session=2, state="used")
    source = Source(logbook_folder)
    first, second = (source.judgement(label, 2) for label in ("C1", "C2"))

    assert judged.worth(first) == "A reading would count"
    assert judged.worth(second) == "A reading would not count"
    assert "reading" not in {one.rule for one in judged.asked(first)}
    assert "has not been read" not in shown(judged.at_reading(first, 2))


def test_the_page_does_not_wait_for_the_log(logbook_folder, monkeypatch):
    """The plug's page stands before its session is compared, which takes seconds on a long log."""
    monkeypatch.setattr("dashboard.compared.compare_alone", lambda *_: pytest.fail("the page waited"))

    assert "Reading the log" in page(plug, logbook_folder, "/plug/B1")


def test_the_box_lists_every_plug(logbook_folder):
    """Each plug has its row with its state and its readings, and leads to its own page."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        logbook.new_plugs(["D 1"])
        logbook.fit("C1", cylinder=1, session=2, state="new")
    text = page(box, logbook_folder, "/plugs")

    assert '"/plug/D%201"' in text
    assert "in cylinder 1 of Hollow Lane 400" in text
    assert text.count('"1 reading"') == 2
    assert "not read yet" in text


@pytest.mark.parametrize(
    ("typed", "made"),
    [("D1, D2", ["D1", "D2"]), (" D1 ;D2\nD1", ["D1", "D2"]), ("D1,", ["D1"])],
)
def test_labels_are_typed_in_a_row(typed, made):
    """Commas, semicolons and lines part labels; a label twice is one."""
    assert story.as_labels(typed) == made


def test_a_code_is_the_address_and_nothing_else():
    """The drawn squares are those of the code for the plug's address, with the quiet edge that ISO/IEC 18004 asks for.

    published: the width of the quiet zone, ISO/IEC 18004.
    """
    address = "http://192.168.7.2:8742/plug/S%201"
    svg = code_svg(address)
    dark = {(int(x) - QUIET, int(y) - QUIET) for x, y in re.findall(r"M(\d+),(\d+)h1v1h-1z", svg)}
    rows = segno.make(address, error="m", micro=False).matrix

    assert QUIET == 4
    assert dark == {(x, y) for y, row in enumerate(rows) for x, one in enumerate(row) if one}
    assert f'viewBox="0 0 {len(rows) + 8} {len(rows) + 8}"' in svg


@pytest.mark.parametrize(
    ("which", "href", "count", "warned"),
    [
        ("in use", "http://192.168.7.2:8742/labels", 3, False),
        ("all", "http://192.168.7.2:8742/labels", 4, False),
        ("in use", "http://127.0.0.1:8742/labels", 3, True),
        ("in use", "http://localhost:8742/labels", 3, True),
        ("in use", "http://[::1]:8742/labels", 3, True),
    ],
)
def test_each_plug_has_a_label_that_leads_to_it(logbook_folder, which, href, count, warned):
    """The sheet has a label for each plug, whose code opens it by the address in use; loopback is warned of."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        logbook.new_plugs(["D1", "D2"])
        logbook.scrap("D2")
    app = Dash("test")
    labels.register(app, Source(logbook_folder))
    sheet, warning = asyncio.run(callback_of(app, "label-sheet")(which, href))
    text = "".join(shown(one) for one in sheet)

    assert len(sheet) == count
    assert f"{href.removesuffix('/labels')}/plug/B1" in text
    assert (warning is not None) == warned


def test_the_scale_stands_at_once_and_its_pairs_follow(logbook_folder, monkeypatch):
    """The guess and the tuner's word are shown without any session being read; the pairs come after them."""
    app = Dash("test")
    route = scale.register(app, Source(logbook_folder))
    with monkeypatch.context() as patched:
        patched.setattr("dashboard.compared.kept_pairs", lambda *_: pytest.fail("the page waited"))
        text = shown(
            asyncio.run(route.layout(route.pattern.fullmatch("/bike/Hollow%20Lane%20400/scale"), {}))
        )
    after = "".join(
        shown(one)
        for one in asyncio.run(callback_of(app, "ring-scale")("Hollow Lane 400"))
        if one is not None
    )

    assert "Reading the sessions" in text
    assert "The starting guess" in text
    assert "Your own word" in text
    assert "unvalidated" in text.lower() or "not been validated" in text
    assert "Reading the sessions" not in after
    assert "1 valid pair of 1 session" in after
    assert "was used when it was fitted" in after


def test_a_bike_without_a_nose_length_has_no_scale(tmp_path):
    """Where the bike's file gives no nose length, the page says what to add instead of drawing a guess."""
    bare = Bike.model_validate(twin().model_dump() | {"plug": {"type": "short reach", "nose_mm": None}})
    with Logbook.open(tmp_path, write=True) as logbook:
        logbook.add_bike(bare)

    assert "add nose_mm" in page(scale, tmp_path, "/bike/Hollow%20Lane%20400/scale")


def test_a_bike_that_is_none_has_no_scale(logbook_folder):
    """An unknown bike is the bridge's own sentence."""
    with pytest.raises(UnknownThing, match="Hollow Lane 400"):
        page(scale, logbook_folder, "/bike/Hollow/scale")


def test_what_is_told_of_a_tray(logbook_folder):
    """Swapped, mixed up, lost, found: the tray's page offers what can be told of it, each with its way back."""
    text = page(plugs, logbook_folder, "/session/1/plugs")

    assert "Two plugs were mixed up when they were written down" in text
    assert "their order is lost" in text
    assert "Their order is known again" not in text
    with Logbook.open(logbook_folder, write=True) as logbook:
        logbook.order_lost(1)
    assert "Their order is known again" in page(plugs, logbook_folder, "/session/1/plugs")


def test_a_script_in_a_label_stays_words(logbook_folder):
    """A label that is a script goes through form, box and label sheet as words."""
    label = '"><script>alert(1)</script>'
    with Logbook.open(logbook_folder, write=True) as logbook:
        number = add_session(logbook, ride(3, seconds=60.0), bike="Hollow Lane 400", days=2)
        logbook.fit(label, cylinder=1, session=number, state="new")
    app = Dash("test")
    labels.register(app, Source(logbook_folder))
    sheet, _ = asyncio.run(callback_of(app, "label-sheet")("all", "http://192.168.7.2/labels"))
    markup = [page(plug, logbook_folder, story.page_of(label)), *(shown(one) for one in sheet)]
    drawings = re.findall(r'"data-svg": "((?:[^"\\]|\\.)*)"', "".join(markup))

    assert drawings
    assert any("alert(1)" in svg for svg in drawings)
    assert not any("<script" in svg for svg in drawings)


@pytest.mark.parametrize(("picture_mm", "differs"), [(9.8, True), (6.9, False)])
def test_a_picture_that_differs_from_the_eye_is_said_where_it_is_kept(hand, picture_mm, differs):
    """The eye read 6.8 mm: a picture of 9.8 is told beside the photographs, one of 6.9 is not."""
    answer = {"ring": "seen", "ring_depth_mm": picture_mm, "ring_depth_sd_mm": 0.2, "confidence": 0.9}
    photo = Photo(
        1, "B1", 1, datetime(2026, 5, 14, tzinfo=UTC), "a.png", "0" * 64, "cut", 14.0, None, None, answer
    )
    text = photo_form.markup(replace(hand, photos=(photo,)))

    assert ("Eye and picture differ" in text) is differs
    assert ("your eye differs" in text) is differs
