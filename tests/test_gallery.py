"""The gallery and the pictures of the docs show what the stages say: one movement and the pair again, all there."""

from pathlib import Path

import pytest

from tests import gallery, pictures


def test_every_movement_has_its_picture_and_its_entry() -> None:
    text = (gallery.DOCS / "gallery.md").read_text(encoding="utf-8")
    assert {p.stem for p in gallery.PICTURES.glob("*.svg")} == set(gallery.movements())
    assert all(f"## {name}\n" in text for name in gallery.movements())


def test_an_entry_says_what_the_stages_say(tmp_path: Path) -> None:
    trial = gallery.processed(gallery.movements()["pelvis_turn"], tmp_path)
    assert gallery.words_of(trial)[0] == "with_the_pelvis"
    text = (gallery.DOCS / "gallery.md").read_text(encoding="utf-8")
    assert gallery.entry(gallery.movements()["pelvis_turn"], trial) in text, "run python -m tests.gallery"
    assert gallery.picture(trial).axes


@pytest.mark.parametrize(("words", "part"), [("turns the pelvis", "pelvis"), ("moves at the hip", "hip")])
def test_the_matched_pair_is_alike_to_a_flat_view_and_not_in_its_cause(words: str, part: str, tmp_path: Path) -> None:
    curves, contributions = pictures.tables(pictures.MEMBERS[words], tmp_path)
    parts = pictures.parts_of(contributions)
    assert parts[part] == pytest.approx(36.0, abs=0.1)
    assert sum(parts.values()) == pytest.approx(36.0, abs=0.1)
    assert curves["fppa"].max() == pytest.approx(36.0, abs=0.1)
