"""What pulls say in words: once in the bridge, for the command line and for the pages alike."""

from dataclasses import replace

import polars as pl
import pytest

from bridge.pulls import Hold, pulls_of
from bridge.pulls.compare import compare
from bridge.pulls.words import (
    CAUTIONS,
    HELD,
    came_about,
    comparison_words,
    correction_words,
    counted,
    of_pull,
    of_pulls,
    peak_doubt,
    pulls_words,
    spread_words,
    strongest,
)
from tests.bridge.pulls.dyno_days import day


@pytest.fixture(scope="module")
def found():
    """Return the pulls of a day whose third one is the strongest."""
    return pulls_of(day([1.0, 1.0, 1.05]), ask_ride=False, target=0.8)


def test_the_whole_is_made_of_its_parts(found):
    """What the command line prints is counted, how it came about, each pull, what holds for all, notes, cautions."""
    each = [words for pull in found.pulls for words in of_pull(pull)]
    whole = pulls_words(found)

    assert whole[: -len(found.notes) - len(CAUTIONS)] == [
        counted(found),
        *came_about(found),
        *each,
        *of_pulls(found),
    ]
    assert [words for words in whole if words.startswith("Caution:")] == [
        f"Caution: {one}" for one in CAUTIONS
    ]
    assert len(of_pulls(found)) == 1
    assert of_pulls(pulls_of(day([1.0]), ask_ride=False, standard="none")) == []


def test_a_pull_s_words_are_its_own(found):
    """Power, mixture and notes of a pull name that pull and no other."""
    for pull in found.pulls:
        said = of_pull(pull)
        assert len(said) >= 3
        assert all(words.startswith(f"Pull {pull.number}") for words in said)
        assert any("leaner than the target" in words for words in said)


def test_the_strongest_is_told_with_its_doubt(found):
    """The strongest pull, with noise, bias, that it is told high, and what it was corrected by; none without power."""
    said = strongest(found)

    assert said.startswith(f"The most: {found.pulls[2].peak[0]:.1f} kW at ")
    for words in (
        "in pull 3, at the wheel",
        "kW of noise left by",
        "its window makes",
        "told high",
        "ISO 1585",
    ):
        assert words in said
    without = [replace(pull, curve=pull.curve.with_columns(power_kw=None)) for pull in found.pulls]
    assert strongest(replace(found, pulls=tuple(without))) is None


def test_noise_that_is_not_known_is_not_told_as_none(found):
    """A curve without its noise says that it is not known, in place of 0.00 kW."""
    pull = found.pulls[0]
    bare = replace(pull, curve=pull.curve.with_columns(power_sd_kw=pl.lit(None, dtype=pl.Float64)))

    assert 0.0 < peak_doubt(pull) < 1.0
    assert peak_doubt(bare) is None
    assert "the noise left by the filter is not known" in of_pull(bare)[0]
    assert "0.00 kW of noise" not in of_pull(bare)[0]


def test_held_speeds_say_place_correction_and_doubt(found):
    """Their own power is named as pulls' is, a correction that was refused too; without holds nothing is said."""
    corrected = found.pulls[0].corrected
    hold = Hold(1.0, 5.0, None, 6000.0, {}, {}, 20.0, 0.1, 31.8, "wheel", corrected)
    refused = replace(corrected, by=None, because="the air is too hot")
    bare = replace(hold, corrected=refused)

    assert HELD not in pulls_words(found)
    said = pulls_words(replace(found, holds=(hold, hold, bare), pulls=()))
    assert HELD in said
    held = [text for text in said if text.startswith("Power of held speeds")]
    assert len(held) == 2
    assert "at the wheel, corrected by ISO 1585" in held[0]
    assert f"factor {corrected.by.factor:.4f}" in held[0]
    assert "as measured, since the air is too hot" in held[1]
    assert any(text.startswith("A correction makes up for") for text in said)


def test_a_comparison_says_spread_and_whether_sides_took_turns():
    """Scatter from run to run in per cent; sides that alternate are said to, those one after another are not."""
    before, after, again = (
        pulls_of(day(scales, number=number), ask_ride=False)
        for number, scales in enumerate(([1.0, 1.002, 0.999], [1.05, 1.052, 1.049], [0.998, 1.001, 1.0]), 1)
    )
    turns, rows = compare([before, again], [after]), compare([before], [after])

    assert any("scatters by" in words for words in spread_words(turns))
    assert any("take turns" in words for words in spread_words(turns)) == turns.alternates
    assert turns.alternates != rows.alternates
    assert not any("take turns" in words for words in spread_words(rows))
    assert set(spread_words(turns)) < set(comparison_words(turns))
    assert correction_words(turns.corrected_by) in comparison_words(turns)
    assert "not corrected" in correction_words(None)
