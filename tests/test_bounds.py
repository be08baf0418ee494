"""Every number that a user may set has a least and a most, and what lies beyond is refused with its line."""

import importlib
import pkgutil
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Union, get_args, get_origin

import pytest
from pydantic.fields import FieldInfo

import condyle
from condyle.errors import UsageError
from condyle.files.checked import Checked, validate
from condyle.files.limits import KnownLimits, Limit, limits_files, load_limits, read_limits
from condyle.files.yaml_text import parse_yaml_text
from condyle.stages.checks.judging import QualityLimits
from condyle.stages.contributions import ContributionsSettings
from condyle.stages.uncertainty import UncertaintySettings
from condyle.study.choosing import cutoff_from_words
from condyle.study.settings import AgreeSettings

CHANGED_IN: dict[str, tuple[type[Checked], str]] = {  # file of limits: where a pipeline changes them
    "findings": (ContributionsSettings, "limits"),
    "planar_reading": (ContributionsSettings, "planar"),
    "quality": (QualityLimits, "limits"),
    "uncertainty": (UncertaintySettings, "sds"),
}
CHANGEABLE = [(name, key) for name in CHANGED_IN for key in load_limits(name)]


def classes(of: type[Checked] = Checked) -> Iterator[type[Checked]]:
    for one in of.__subclasses__():
        if one.__module__.startswith("condyle."):
            yield one
        yield from classes(one)


def all_classes() -> list[type[Checked]]:
    for module in pkgutil.walk_packages(condyle.__path__, "condyle."):
        if "__main__" not in module.name:
            importlib.import_module(module.name)
    return sorted(set(classes()), key=lambda c: (c.__module__, c.__name__))


def numbers(annotation: Any, metadata: list[Any]) -> Iterator[list[Any]]:
    """The metadata of every number that an annotation can hold, a list's items by themselves."""
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        own = [m for a in args[1:] for m in (a.metadata if isinstance(a, FieldInfo) else [a])]
        yield from numbers(args[0], [*metadata, *own])
    elif origin in (Union, types.UnionType):
        for part in args:
            yield from numbers(part, metadata)
    elif origin in (tuple, list, set, frozenset):
        for part in args:
            yield from numbers(part, [])
    elif origin is dict:
        yield from numbers(args[1], metadata)
    elif annotation in (int, float):
        yield metadata


def bounded(metadata: list[Any]) -> bool:
    if any(isinstance(m, KnownLimits) for m in metadata):
        return True
    return all(any(getattr(m, k, None) is not None for m in metadata for k in ends) for ends in ("ge gt", "le lt")
               for ends in [ends.split()])  # fmt: skip


def test_every_number_of_every_file_has_a_least_and_a_most() -> None:
    found = 0
    for model in all_classes():
        if model is Limit:  # its value is held against the bounds that stand beside it
            continue
        for name, field in model.model_fields.items():
            for metadata in numbers(field.annotation, field.metadata):
                found += 1
                assert bounded(metadata), f"{model.__name__}.{name} has no least or no most"
    assert found > 50


@pytest.mark.parametrize(("file", "key"), CHANGEABLE, ids=lambda v: v)
def test_a_limit_beyond_its_bounds_is_refused_with_file_line_and_what_was_expected(file: str, key: str) -> None:
    (model, setting), limit = CHANGED_IN[file], load_limits(file)[key]
    least, most = limit.bounds
    assert least <= limit.value <= most
    for beyond in (least - 1.0, most + 1.0):
        _, sentences = validate(model, parse_yaml_text(f"{setting}:\n  {key}: {beyond:g}\n", "p.yaml"))
        unit = "" if limit.unit == "1" else f" {limit.unit}"
        assert sentences == [
            f"p.yaml, line 2: key `{key}` in `{setting}` is `{beyond:g}`; expected a number from {least:g} to {most:g}{unit}"
        ]


def test_what_a_unit_cannot_be() -> None:
    for path in limits_files():
        for key, limit in read_limits(path).items():
            least, most = limit.bounds
            if limit.unit == "%":
                assert (least, most) >= (0.0, 0.0), key
                assert most <= 100.0, key
            if limit.unit == "s":
                assert least >= 0.0, key
    for key, limit in load_limits("uncertainty").items():
        assert limit.bounds[0] >= 0.0, key
        assert limit.bounds[1] <= 180.0, key
    assert load_limits("planar_reading")["camera_distance_mm"].bounds[0] > 0.0
    assert load_limits("uncertainty")["soft_tissue_at_deg"].bounds[0] > 0.0  # it divides


def test_a_limit_that_rejects_lies_beyond_the_one_that_calls_for_a_look() -> None:
    told = validate(QualityLimits, parse_yaml_text("limits:\n  fit_plate_reject: 1\n", "p.yaml"))[1]
    assert told == [
        "p.yaml, line 2: key `fit_plate_reject` in `limits` is `1`; expected at least `fit_plate_review`, which is 2.5"
    ]
    both = parse_yaml_text("limits: {fit_plate_reject: 1, fit_plate_review: 0.5}", "p.yaml")
    assert validate(QualityLimits, both)[1] == []


def test_a_shipped_limit_beyond_its_own_bounds_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "l.yaml"
    path.write_text("far: {value: 20, unit: mm, most: 10, source: ours, words: too far}\n")
    with pytest.raises(UsageError, match=r"line 1: .*value 20: expected a number from 0 to 10 mm"):
        read_limits(path)


def test_places_of_a_camera_and_cut_offs_of_a_study_have_bounds() -> None:
    text = "camera: {distance_mm: 0}\ncamera_sweep:\n  yaw_deg: [0, 95]\nhalf_widths: [1, -1]\n"
    told = validate(AgreeSettings, parse_yaml_text(text, "a.yaml"))[1]
    assert [sentence.split("; ")[0] for sentence in told] == [
        "a.yaml, line 1: key `distance_mm` in `camera` is `0`",
        "a.yaml, line 3: key `yaw_deg[2]` in `camera_sweep` is `95`",
        "a.yaml, line 4: key `half_widths[2]` is `-1`",
    ]
    with pytest.raises(UsageError, match="from -10000 to 10000"):
        cutoff_from_words("hip_adduction_at_bottom:1e9")
