"""Strange parameters cost no coordinate; labels are joined, cleaned and counted."""

from collections.abc import Callable

import numpy as np
import pytest

from condyle.errors import DataError
from condyle.files.c3d import Recording
from tests.c3d_bytes import CHARACTER, Record, real, text
from tests.c3d_hazards.shared import FRAMES, LABELS, POINTS, N, checks, same_points


def test_parameter_names_in_lower_case_are_read(read: Callable[..., Recording]) -> None:
    recording = read(lower_case=True)
    same_points(recording)
    assert recording.labels == tuple(LABELS)


def test_a_second_point_group_is_reported(read: Callable[..., Recording]) -> None:
    same = read(add=[real("POINT#2", "RATE", 100.0)])
    assert "parameter section" in checks(same)
    same_points(same)
    with pytest.raises(DataError, match="POINT:RATE stands twice"):
        read(add=[real("POINT#2", "RATE", 200.0)])


@pytest.mark.parametrize(
    "record",
    [
        Record("OTHER", "ODD", 3, (4,), bytes(12)),
        Record("OTHER", "ODD", -7, (), bytes(1)),
        Record("OTHER", "ODD", CHARACTER, (), b"x"),
        Record("OTHER", "ODD", CHARACTER, (0, 0), b""),
        Record("OTHER", "ODD", CHARACTER, (255, 255, 255), b"short"),
        Record("OTHER", "ODD", 2, (2,) * 7, bytes(256)),
        Record("OTHER", "", 2, (), bytes(2)),
        Record("OTHER", "ODD", 2, (), bytes(2), offset=1),
        Record("OTHER", "ODD", 2, (), bytes(2), offset=65000),
    ],
    ids=[
        "type 3",
        "type -7",
        "text without dimensions",
        "empty text",
        "more than there is",
        "seven dimensions",
        "no name",
        "back",
        "far",
    ],
)
def test_a_strange_parameter_costs_no_coordinate(read: Callable[..., Recording], record: Record) -> None:
    recording = read(add=[record])
    same_points(recording)
    assert recording.labels == tuple(LABELS)


@pytest.mark.parametrize("count", [1, 254, 255, 256, 300, 600])
def test_more_than_255_labels_are_joined(read: Callable[..., Recording], count: int) -> None:
    labels = [f"P{k:03d}" for k in range(count)]
    points = np.resize(POINTS[:8].transpose(1, 0, 2), (count, 8, 3)).transpose(1, 0, 2)
    if count < 4:
        assert read(points=points, labels=labels).labels == tuple(labels)
        return
    recording = read(points=points, labels=labels)
    assert recording.labels == tuple(labels)
    same_points(recording, points)


def test_labels_are_cleaned_and_counted(read: Callable[..., Recording]) -> None:
    odd: list[str | bytes] = [*LABELS]
    odd[0], odd[1], odd[2], odd[3] = b"KN\xcaE", b"A\x1b[2J", "*12", b"   "
    recording = read(labels=odd)
    assert recording.labels[:4] == ("KNÊE", "A?[2J", "*12", "*4")
    assert recording.kinds[:4] == ("marker", "marker", "unlabelled", "unlabelled")
    for label in recording.labels:
        label.encode("utf-8")
    assert "labels" in checks(recording)
    fewer = read(labels=LABELS[:7])
    assert fewer.labels[7:] == ("*8", "*9", "*10", "*11", "*12")
    assert "labels" in checks(fewer)
    none = read(drop={"POINT:LABELS"})
    assert any(f.verdict == "reject" and f.check == "labels" for f in none.findings)


@pytest.mark.parametrize("dims", [(4, N), (8, N // 2), (16, N), (8, N - 1), (7, N)])
def test_labels_read_at_the_wrong_places_are_rejected(read: Callable[..., Recording], dims: tuple[int, int]) -> None:
    raw = b"".join(label.encode().ljust(8) for label in LABELS)
    recording = read(replace=[Record("POINT", "LABELS", CHARACTER, dims, raw)])
    same_points(recording)
    assert any(f.check == "labels" and f.verdict == "reject" for f in recording.findings)


def test_points_that_are_no_markers_are_told(read: Callable[..., Recording]) -> None:
    angles = np.random.default_rng(0).normal(0, 30, (FRAMES, 2, 3))
    forces = np.random.default_rng(0).normal(0, 9e4, (FRAMES, 1, 3))
    made = np.concatenate([POINTS / 1000, angles, forces], axis=1)
    labels = [*LABELS, "R_KNEE_ANGLE", "SPECIAL", "R_FORCE"]
    groups = [
        text("POINT", "ANGLES", ["R_KNEE_ANGLE"]),
        text("POINT", "FORCES", ["R_FORCE"]),
        text("POINT", "OWN_LIST", ["SPECIAL"]),
        Record("POINT", "TYPE_GROUPS", CHARACTER, (10, 2, 1), b"OWN_OUTPUT" + b"OWN_LIST  "),
    ]
    recording = read(points=made, labels=labels, unit="m", add=groups)
    assert recording.kinds[N:] == ("angle", "own_output", "force")
    assert recording.kinds[0] == "marker"
    same_points(recording, np.concatenate([POINTS, angles, forces], axis=1), atol=0.01)
    assert "samples out of range" not in checks(recording)
