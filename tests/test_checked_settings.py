"""From text to settings: the declared type decides, and every mistake is a sentence with line and nearest name."""

import math
from typing import Annotated, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field, ValidationError

from condyle.files.checked import Checked, source_of, unit_of, validate
from condyle.files.suggestion import hint, nearest
from condyle.files.yaml_text import parse_yaml_text


class Plate(Checked):
    points: tuple[str, ...] = Field(description="labels", min_length=3)


class Sample(Checked):
    cutoff_hz: Annotated[float, Field(gt=0)] | Literal["residual"] = Field(6.0, description="cutoff")
    order: Literal[2, 4] = Field(4, description="order")
    draws: int = Field(200, ge=1, le=9999, description="draws", json_schema_extra={"source": "ours"})
    seen: bool = Field(False, description="flag")
    id: str = Field("x", description="pseudonym")
    use_s: tuple[float, float] | None = Field(None, description="part")
    plates: dict[str, Plate] = Field({}, description="plates")
    share: float = Field(0.5, description="share", json_schema_extra={"unit": "1"})


def told(text: str) -> list[str]:
    made, sentences = validate(Sample, parse_yaml_text(text, "x.yaml"))
    assert (made is None) == bool(sentences)
    return sentences


def made(text: str) -> Sample:
    settings, sentences = validate(Sample, parse_yaml_text(text, "x.yaml"))
    assert sentences == []
    assert settings is not None
    return settings


def test_the_declared_type_decides() -> None:
    got = made("cutoff_hz: '7'\norder: 2\ndraws: 10\nseen: yes\nid: 010\nuse_s: [2, 14.5]\nshare: 1e-3")
    assert got == Sample(cutoff_hz=7.0, order=2, draws=10, seen=True, id="010", use_s=(2.0, 14.5), share=0.001)
    assert isinstance(got.cutoff_hz, float)
    assert made("id: no").id == "no"
    assert made("cutoff_hz: residual").cutoff_hz == "residual"
    assert [made(f"seen: {w}").seen for w in ("yes", "no", "true", "false", "True", "NO")] == [True, False] * 3
    assert made("use_s: ").use_s is None, "an optional setting may be left empty"


ONE = {
    "unknown key": ("cutof_hz: 6", "line 1: key `cutof_hz` is not known; nearest valid name: `cutoff_hz`"),
    "unlike any key": ("zzz: 6", "is not known; valid names: `cutoff_hz`, `order`, `draws`, `seen`"),
    "word for number": ("cutoff_hz: six", "key `cutoff_hz` is `six`; expected a number in Hz or `residual`"),
    "near a word": ("cutoff_hz: residul", "expected a number in Hz or `residual`; nearest valid name: `residual`"),
    "too small": ("cutoff_hz: 0", "key `cutoff_hz` is `0`; expected a number above 0 in Hz or `residual`"),
    "bounds": ("draws: 0", "key `draws` is `0`; expected a number of at least 1"),
    "upper bound": ("draws: 10000", "key `draws` is `10000`; expected a number of at most 9999"),
    "fraction": ("draws: 1.5", "key `draws` is `1.5`; expected a whole number"),
    "not offered": ("order: 3", "key `order` is `3`; expected one of 2, 4"),
    "on is no answer": ("seen: on", "key `seen` is `on`; expected `yes` or `no`"),
    "1 is no answer": ("seen: 1", "key `seen` is `1`; expected `yes` or `no`"),
    "nan": ("share: nan", "key `share` is `nan`; expected a finite number"),
    "infinite": ("share: -inf", "key `share` is `-inf`; expected a finite number"),
    "empty": ("id: ", "key `id` has no value; expected text"),
    "list for text": ("id: [a]", "key `id` is a list of 1; expected text"),
    "mapping for number": ("share: {a: 1}", "key `share` is a mapping; expected a number"),
    "short pair": ("use_s: [1]", "key `use_s` is a list of 1; expected one entry more"),
    "long pair": ("use_s: [1, 2, 3]", "key `use_s` is a list of 3; expected at most 2 entries"),
    "wrong inside a list": ("use_s: [1, b]", "key `use_s[2]` is `b`; expected a number in s"),
    "too few": (
        "plates:\n  a: {points: [x]}",
        "line 2: key `points` in `a` is a list of 1; expected at least 3 entries",
    ),
    "missing": ("plates:\n\n  a: {}", "line 3: key `points` in `a` is missing; expected labels"),
    "text for mapping": ("plates: {a: 4}", "key `a` in `plates` is `4`; expected a mapping (`key: value`)"),
}


@pytest.mark.parametrize("name", ONE)
def test_a_mistake_is_a_sentence(name: str) -> None:
    text, expected = ONE[name]
    (sentence,) = told(text)
    assert sentence.startswith("x.yaml, line ")
    assert expected in sentence


def test_mistakes_come_together_and_in_order_of_lines() -> None:
    sentences = told("draws: x\nshar: 1\nplates:\n  a: {points: [1, 2, 3], kind: 3}\norder: 5")
    assert [int(s.split("line ")[1].split(":")[0]) for s in sentences] == [1, 2, 4, 5]


def test_settings_cannot_be_changed_nor_made_wrong_from_python() -> None:
    with pytest.raises(ValidationError):
        Sample(cutoff_hz=math.nan)
    with pytest.raises(ValidationError):
        Sample(unknown=1)  # type: ignore[call-arg]
    with pytest.raises(ValidationError):
        Sample().draws = 3  # type: ignore[misc]


def test_unit_and_source_come_from_the_field() -> None:
    assert [unit_of(n) for n in ("cutoff_hz", "still_deg_per_s", "longest_s", "lead_percent", "draws")] == [
        *("Hz", "deg/s", "s", "%", "")
    ]
    assert unit_of("share", Sample.model_fields["share"]) == "1"
    assert source_of(Sample.model_fields["draws"]) == "ours"


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_survives_being_written(value: float) -> None:
    assert made(f"share: {value!r}").share == value


@given(st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=20))
def test_no_word_makes_a_number_setting_crash(word: str) -> None:
    _, sentences = validate(Sample, parse_yaml_text(f"share: {word}", "x.yaml"))
    assert all(s.startswith("x.yaml, line 1: key `share`") for s in sentences)


def test_nearest_name() -> None:
    assert nearest("R_KNEE_LTA", ["R_KNEE_MED", "R_KNEE_LAT", "L_KNEE_LAT"]) == "R_KNEE_LAT"
    assert nearest("Asis-R", ["asis_l", "asis_r"]) == "asis_r"
    assert nearest("Z", ["+X", "-X", "+Z", "-Z"]) == "+Z"
    assert nearest("xyz", ["asis_r"]) is None
    assert nearest("a", []) is None
    assert hint("xyz", []) == ""


@given(st.sampled_from(["cutoff_hz", "order", "draws", "seen", "use_s", "plates"]), st.data())
def test_one_letter_wrong_still_finds_the_name(name: str, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(name) - 1))
    assert nearest(name[:at] + name[at + 1 :], ["cutoff_hz", "order", "draws", "seen", "use_s", "plates"]) == name
