"""The marker set: which of the lab's labels is what, and which points move with which segment."""

import os
from collections.abc import Iterator, Mapping
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from condyle.body_names import JOINT_SEGMENTS, JOINTS, LANDMARK_SEGMENT, LANDMARKS, SEGMENTS
from condyle.errors import ConfigurationErrors
from condyle.files.checked import NO_OUTER_BLANKS, Checked, validate
from condyle.files.suggestion import hint
from condyle.files.yaml_text import TreePath, YamlText, read_yaml_text

Kind = Literal["plate", "skin"]
FEWEST_TRACKING_POINTS = 3
_JOINT_NEEDS = {  # every alternative in a group will do; medial points may be replaced by a measured width
    **{f"hip{s}": (("asis_r",), ("asis_l",), ("sacrum", "psis_r"), ("sacrum", "psis_l")) for s in ("_r", "_l")},
    **{f"knee{s}": ((f"lateral_epicondyle{s}",),) for s in ("_r", "_l")},
    **{f"ankle{s}": ((f"lateral_malleolus{s}",),) for s in ("_r", "_l")},
}


def _as_mapping(value: Any) -> Any:
    return {"points": value} if isinstance(value, list | tuple) else value


Label = Annotated[str, Field(min_length=1, pattern=NO_OUTER_BLANKS)]


class Tracking(Checked):
    """The points that move with one segment."""

    points: tuple[Label, ...] = Field(description="labels or joint centres that move with the segment, three at least")
    kind: Kind | None = Field(
        None,
        description="plate (markers on one rigid plate) or skin (markers or landmarks on skin); left out: plate where "
        "no point is a landmark or a joint centre, else skin",
        json_schema_extra={"source": "ours"},
    )


_POINTS_SCHEMA = {"type": "array", "items": {"type": "string"}, "minItems": FEWEST_TRACKING_POINTS, "uniqueItems": True}
_TRACKING_SCHEMA = {
    "oneOf": [
        _POINTS_SCHEMA,
        {
            "type": "object",
            "properties": {
                "points": {**_POINTS_SCHEMA, "description": Tracking.model_fields["points"].description},
                "kind": {"enum": ["plate", "skin"], "description": Tracking.model_fields["kind"].description},
            },
            "required": ["points"],
            "additionalProperties": False,
        },
    ]
}


def _named_schema(names: tuple[str, ...], value: dict[str, Any]) -> WithJsonSchema:
    properties = dict.fromkeys(names, value)
    return WithJsonSchema(
        {"type": "object", "properties": properties, "additionalProperties": False, "minProperties": 1}
    )


class MarkerSet(Checked):
    """Which of the lab's labels is what; the labels appear nowhere else."""

    landmarks: Annotated[
        dict[str, Label], Field(min_length=1), _named_schema(LANDMARKS, {"type": "string", "minLength": 1})
    ] = Field(description="anatomical name: the lab's label")
    tracking: Annotated[
        dict[str, Annotated[Tracking, BeforeValidator(_as_mapping)]],
        Field(min_length=1),
        _named_schema(SEGMENTS, _TRACKING_SCHEMA),
    ] = Field(
        description="segment: the labels (or joint centres) that move with it, or {points: [...], kind: plate | skin}"
    )
    static_only: tuple[Label, ...] = Field((), description="labels taken off after the static trial")
    prefix: str = Field(
        "auto", min_length=1, description="participant prefix in labels: auto, none, or the prefix with its separator"
    )

    @cached_property
    def points(self) -> tuple[str, ...]:
        """Every marker's name: the landmarks first, then the labels that only track."""
        extra = [p for t in self.tracking.values() for p in t.points]
        named = [self.point_of(label) for label in (*extra, *self.static_only)]
        return tuple(dict.fromkeys([*self.landmarks, *(n for n in named if n not in JOINTS)]))

    @cached_property
    def labels(self) -> tuple[str, ...]:
        """The lab's labels, in the order of ``points``."""
        return tuple(self.label_of(point) for point in self.points)

    @cached_property
    def _point_of_label(self) -> dict[str, str]:
        return {label: name for name, label in self.landmarks.items()}

    def label_of(self, point: str) -> str:
        """The lab's label of a point; a joint centre and a tracking marker are their own names."""
        return self.landmarks.get(point, point)

    def point_of(self, label: str) -> str:
        """The point behind a label: a landmark's name where the set maps one, else the label itself."""
        return self._point_of_label.get(label, label)

    @property
    def segments(self) -> tuple[str, ...]:
        """The segments that are tracked, in the vocabulary's order."""
        return tuple(s for s in SEGMENTS if s in self.tracking)

    @property
    def static_points(self) -> tuple[str, ...]:
        """The points taken off after the static trial."""
        return tuple(self.point_of(label) for label in self.static_only)

    def tracking_points(self, segment: str) -> tuple[str, ...]:
        """Names of the points that move with a segment, joint centres included; () where it is not tracked."""
        return tuple(self.point_of(p) for p in self.tracking[segment].points) if segment in self.tracking else ()

    def kind(self, segment: str) -> Kind:
        """How the segment's tracking points are held together: by a plate, or by skin."""
        declared = self.tracking[segment].kind if segment in self.tracking else None
        if declared is not None:
            return declared
        points = self.tracking_points(segment)
        return "plate" if points and not any(p in LANDMARKS or p in JOINTS for p in points) else "skin"


def load_marker_set(path: str | os.PathLike[str]) -> MarkerSet:
    """The marker set in a YAML file; raises ConfigurationErrors with one sentence a mistake."""
    return _checked(read_yaml_text(path))


def marker_set_from(tree: Mapping[str, Any], name: str = "marker set") -> MarkerSet:
    """The same from a mapping, checked alike."""
    return _checked(YamlText(Path(name), dict(tree), {}))


def _checked(text: YamlText) -> MarkerSet:
    markers, sentences = validate(MarkerSet, text)
    sentences += [text.sentence(path, words) for path, words in _mistakes(markers or _salvaged(text.tree))]
    if markers is None or sentences:
        raise ConfigurationErrors(sentences)
    return markers


def _salvaged(tree: Mapping[str, Any]) -> MarkerSet:
    """What is sound in a marker set with mistakes, so that the other mistakes are found in the same go."""

    def words(values: Any) -> tuple[str, ...]:
        return tuple(str(v) for v in values) if isinstance(values, list | tuple) else ()

    def entries(key: str) -> Mapping[str, Any]:
        return tree[key] if isinstance(tree.get(key), Mapping) else {}

    points = {
        segment: words(t.get("points") if isinstance(t, Mapping) else t) for segment, t in entries("tracking").items()
    }
    return MarkerSet.model_construct(
        landmarks={name: label for name, label in entries("landmarks").items() if isinstance(label, str)},
        tracking={segment: Tracking.model_construct(points=p, kind=None) for segment, p in points.items() if p},
        static_only=words(tree.get("static_only")),
        prefix="auto",
    )


def _mistakes(markers: MarkerSet) -> Iterator[tuple[TreePath, str]]:
    """What the settings class alone cannot see, with its place."""
    yield from _wrong_landmarks(markers)
    for segment in markers.tracking:
        path: TreePath = ("tracking", segment)
        if segment not in SEGMENTS:
            yield path, f"segment `{segment}` is not known{hint(segment, SEGMENTS)}"
            continue
        points = markers.tracking_points(segment)
        if len(set(points)) < FEWEST_TRACKING_POINTS:
            yield path, f"segment `{segment}` has {len(set(points))} tracking points; at least three are needed"
        for index, (label, point) in enumerate(zip(markers.tracking[segment].points, points, strict=True)):
            if point in points[:index]:
                yield (*path, index), f"`{label}` stands twice among the tracking points of `{segment}`"
            elif words := _wrong_tracking_point(markers, segment, label, point):
                yield (*path, index), words
    known = set(markers.landmarks.values()) | {p for t in markers.tracking.values() for p in t.points}
    for index, label in enumerate(markers.static_only):
        if label not in known:
            words = f"label `{label}` stands neither under `landmarks` nor under `tracking`{hint(label, sorted(known))}"
            yield ("static_only", index), words


def _wrong_landmarks(markers: MarkerSet) -> Iterator[tuple[TreePath, str]]:
    seen: dict[str, str] = {}
    for name, label in markers.landmarks.items():
        path: TreePath = ("landmarks", name)
        if name in JOINTS:
            yield path, f"`{name}` is a joint centre, computed and never marked; it may stand under `tracking` only"
        elif name not in LANDMARKS:
            yield path, f"landmark `{name}` is not known{hint(name, LANDMARKS)}"
        if label in seen:
            yield path, f"label `{label}` stands for two landmarks, `{seen[label]}` and `{name}`"
        seen.setdefault(label, name)


def _wrong_tracking_point(markers: MarkerSet, segment: str, label: str, point: str) -> str | None:
    if label in markers.static_only:
        return f"`{label}` cannot track `{segment}`: it is taken off after the static trial (`static_only`)"
    if point in JOINTS:
        return _wrong_joint_centre(markers, segment, point)
    if point in markers.landmarks:
        return _wrong_landmark_segment(segment, label, point)
    if point in LANDMARKS:
        return f"`{point}` is an anatomical name without a label; give it one under `landmarks`"
    if (name := label.casefold()) in JOINTS:
        return f"`{label}` is not known; nearest valid name: `{name}`"
    other = next((s for s, t in markers.tracking.items() if s != segment and label in t.points), None)
    if other is not None and list(markers.tracking).index(other) < list(markers.tracking).index(segment):
        return f"`{label}` already tracks `{other}`; a marker that is no landmark moves with one segment"
    return None


def _wrong_landmark_segment(segment: str, label: str, point: str) -> str | None:
    if point.startswith("patella"):
        return f"`{label}` cannot track `{segment}`: the patella slides on the femur"
    own = LANDMARK_SEGMENT.get(point, segment)  # an unknown landmark has been told already
    below = {below for above, below in JOINT_SEGMENTS.values() if above == own}
    if segment != own and segment not in below:  # epicondyles may stand in for the top of a shank, malleoli of a foot
        return f"`{label}` is {point}, which belongs to `{own}`, not to `{segment}`"
    return None


def _wrong_joint_centre(markers: MarkerSet, segment: str, joint: str) -> str | None:
    above, below = JOINT_SEGMENTS[joint]
    if segment != below:
        return f"joint centre `{joint}` may track `{below}` only, for `{above}` carries it; take it out of `{segment}`"
    if above not in markers.tracking:
        return f"joint centre `{joint}` is carried by `{above}`, which is not under `tracking`"
    missing = [
        " or ".join(f"`{n}`" for n in group)
        for group in _JOINT_NEEDS[joint]
        if not any(n in markers.landmarks for n in group)
    ]
    return (
        f"joint centre `{joint}` cannot be computed without {' and '.join(missing)} under `landmarks`"
        if missing
        else None
    )
