"""What is in this C3D file, and what is wrong with it?

Participants' names and dates of birth, which the parameters of many files hold, are neither kept nor shown.
"""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from condyle.errors import DataError
from condyle.files.c3d import C3DReader, Recording
from condyle.files.c3d_structure import read_structure
from condyle.files.label_text import shown
from condyle.files.orientation import Orientation, guess_orientation
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray


@dataclass(frozen=True, slots=True)
class LabelSeen:
    """How much of a label is there: percent of the frames, its longest gap, how many points carry it."""

    label: str
    kind: str
    points: int
    visible_percent: float
    longest_gap_s: float


@dataclass(frozen=True, slots=True)
class Inspection:
    """Everything `condyle inspect` says; where the file is ``refused``, the reason and what its header claims."""

    path: Path
    refused: bool
    reason: str | None
    claims: dict[str, float]
    recording: Recording | None = None
    labels: tuple[LabelSeen, ...] = ()
    orientation: Orientation | None = None
    ranges_mm: dict[str, tuple[float, float]] | None = None
    findings: tuple[Finding, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Plain values for JSON: None where a number does not exist."""
        out: dict[str, Any] = {
            "file": str(self.path),
            "refused": self.refused,
            "reason": self.reason,
            "header": {k: v if np.isfinite(v) else None for k, v in self.claims.items()},
        }
        r = self.recording
        if r is None:
            return out
        return out | {
            "size_bytes": r.size,
            "sha256": r.sha256,
            "stored_as": r.storage,
            "points": len(r.labels),
            "markers": len({s.label for s in self.labels if s.kind == "marker"}),
            "frames": r.n_frames,
            "first_frame": r.first_frame,
            "rate_hz": r.rate_hz,
            "duration_s": r.duration_s,
            "unit": {"said": r.said_unit, "taken": r.unit, "mm_per_unit": r.unit_factor},
            "samples": asdict(r.counts),
            "labels": [asdict(s) for s in self.labels],
            "axes": {"range_mm": self.ranges_mm, **(asdict(self.orientation) if self.orientation else {})},
            "participants": max(len(r.prefixes), r.subjects),
            "events": [asdict(e) for e in r.events],
            "analogue": {
                "channels": len(r.analogue_labels),
                "rate_hz": r.analogue_rate_hz,
                "labels": list(r.analogue_labels),
            },
            "force_plates": {
                "declared": r.force_plates,
                "plates": [
                    {
                        "corners_mm": np.round(p.corners, 1).tolist(),
                        "largest_force": _largest(p.force),
                        "unit": p.force_unit,
                    }
                    for p in r.forces or ()
                ],
            },
            "findings": [asdict(f) for f in self.findings],
        }

    def as_text(self, width: int = 100) -> str:
        """The same on one screen."""
        from condyle.files.inspection_text import as_text

        return as_text(self, width)


def inspect(path: str | Path, *, reader: C3DReader | None = None) -> Inspection:
    """Look at one C3D file; never raises for what is wrong with it."""
    path = Path(path)
    own = reader if reader is not None else C3DReader()
    try:
        try:
            recording = own.read(path, forces=True)
        finally:
            if reader is None:
                own.close()
    except DataError as error:
        return Inspection(path, True, str(error), _claims(path))
    names = [shown(label, recording.prefixes) for label in recording.labels]
    seen = np.isfinite(recording.points[..., 0])
    position = np.array([kind in ("marker", "unlabelled", "modelled") for kind in recording.kinds], dtype=bool)
    points = recording.points[:, position]
    low, high = np.nanmin(points, axis=(0, 1)), np.nanmax(points, axis=(0, 1))
    marker = recording.is_marker if recording.is_marker.any() else position
    orientation = guess_orientation(
        recording.points[:, marker], tuple(n for n, m in zip(names, marker, strict=True) if m)
    )
    return Inspection(
        path,
        False,
        None,
        _claims(path),
        recording,
        _labels_seen(names, recording, seen),
        orientation,
        {axis: (float(low[k]), float(high[k])) for k, axis in enumerate("xyz")},
        (*recording.findings, *_handedness_findings(orientation)),
    )


def _claims(path: Path) -> dict[str, float]:
    """What the header says, where there is one."""
    try:
        header = read_structure(path).header
    except DataError:
        return {}
    return {
        "points": header.points,
        "frames": header.last - header.first + 1,
        "rate_hz": header.rate_hz,
        "analogue_per_frame": header.analogue_per_frame,
    }


def _labels_seen(names: list[str], recording: Recording, seen: BoolArray) -> tuple[LabelSeen, ...]:
    """One row a label; a label that several points carry is seen where one of them is."""
    columns: dict[tuple[str, str], list[int]] = {}
    for k, (name, kind) in enumerate(zip(names, recording.kinds, strict=True)):
        columns.setdefault((name, kind), []).append(k)
    rows = []
    for (name, kind), which in columns.items():
        here: BoolArray = np.asarray(seen[:, which].any(axis=1))
        seen_at = np.concatenate([[-1], np.flatnonzero(here), [len(here)]])  # a gap may lie at either end
        gap = int(np.diff(seen_at).max()) - 1
        rows.append(LabelSeen(name, kind, len(which), 100.0 * float(here.mean()), gap / recording.rate_hz))
    return tuple(rows)


def _handedness_findings(orientation: Orientation) -> list[Finding]:
    if orientation.right_handed is not False:
        return []
    text = "by toes, heels and sides the axes are left-handed: the sides' labels are exchanged, or an axis mirrored"
    return [Finding("handedness of the axes", "file", None, None, "", "review", text)]


def _largest(force: Any) -> float | None:
    length = np.linalg.norm(force, axis=1)
    return float(np.nanmax(length)) if np.isfinite(length).any() else None


def safe(text: str) -> str:
    """Text that a terminal shows and does not obey."""
    return text if text.isprintable() else "".join(c if c.isprintable() else "?" for c in text)
