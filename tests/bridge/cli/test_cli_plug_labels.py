"""Labels of plugs as they are typed, and words about plugs that change nothing."""

import pytest


def test_what_is_typed_around_a_label_is_no_part_of_it(sootline):
    """A space that a phone's keyboard adds makes no other plug of it."""
    sootline.ok("plug", "new", " K1 ")

    assert sootline.ok("plug", "show", "K1 ")["label"] == "K1"
    assert [plug["label"] for plug in sootline.ok("plug", "list")["plugs"]].count("K1") == 1


def test_a_label_that_reads_as_a_place_is_refused(sootline, files):
    """A plug called K1=2 could not be told from plug K1 in cylinder 2, neither put into the box nor fitted."""
    (files / "ride.csv").write_text("t_s,rpm\n0,5000\n1,5000\n", encoding="utf-8")
    sootline.ok("import", files / "ride.csv")
    fitted = ("--cylinder", "1", "--session", "1", "--state", "new")

    assert "write it without" in sootline.refused("plug", "new", "K1=2")
    assert "write it without" in sootline.refused("plug", "fit", "K1=2", *fitted)
    assert sootline.ok("plug", "list")["plugs"] == []


@pytest.mark.parametrize("label", ["", "   "])
def test_an_empty_label_is_refused(sootline, label):
    """Nothing is no label."""
    assert "the label is empty" in sootline.refused("plug", "show", label)


def test_a_rim_is_asked_of_a_picture_down_the_mouth_alone(sootline, tmp_path):
    """A depth that would be left out of account is refused rather than ignored."""
    said = sootline.refused(
        "plug", "photo", tmp_path / "none.jpg", "--label", "K1", "--session", "1", "--rim-mm", "9"
    )

    assert "--view magnifier" in said
