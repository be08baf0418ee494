"""From what a library read to a recording: looked at twice, missing samples marked, the unit settled, leaps named."""

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from condyle.errors import DataError
from condyle.files import samples
from condyle.files.c3d_layout import Layout
from condyle.files.c3d_names import Names
from condyle.files.c3d_raw import coordinates
from condyle.files.label_text import shown
from condyle.files.point_kinds import MARKER
from condyle.files.reading_limits import Limits
from condyle.files.recording import Recording
from condyle.files.units import MILLIMETRES, settle_unit
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray

_MACHINES = {"intel": "Intel", "dec": "DEC", "mips": "MIPS"}
_POSITIONS = ("marker", "unlabelled", "modelled")


class ReadersDisagree(DataError):
    """What the library returned is not what the bytes of the file say."""


def all_invalid(
    layout: Layout, frames: NDArray[Any], negative: BoolArray, findings: list[Finding], *, accept: bool
) -> BoolArray:
    """Every residual is negative: no data, or data that a program marked wrongly and the user may accept."""
    some = np.unique(np.linspace(0, layout.frames - 1, 20).astype(int))
    there = coordinates(layout, frames, some)
    if not np.any(np.isfinite(there) & (there != 0)):
        raise DataError(
            f"{layout.path}: holds no valid sample: no marker was seen in any of its {layout.frames} frames"
        )
    if not accept:
        raise DataError(
            f"{layout.path}: every single sample is marked invalid (negative residual) although coordinates are there; "
            "if you know that the recording is sound, set `read: {accept_all_invalid: true}` in the pipeline"
        )
    text = "every sample is marked invalid (negative residual); the coordinates were used because that was accepted"
    findings.append(Finding("all samples marked invalid", "file", float(negative.size), 0.0, "samples", "review", text))
    return np.zeros_like(negative)


def checked(read: NDArray[Any], layout: Layout, frames: NDArray[Any], negative: BoolArray) -> FloatArray:
    """What the library returned, (frames, points, 3), after a second look at the file's own bytes."""
    count = read.shape[2] if read.ndim == 3 else 0
    if read.shape[:2] != (3, layout.points) or count < layout.frames:
        raise ReadersDisagree(
            f"{layout.path}: the reader returned {read.shape[1:2]} points in {count} frames, {layout.points} in "
            f"{layout.frames} are in the file; "
            "it is damaged, export it again"
        )
    points: FloatArray = np.ascontiguousarray(read[:, :, : layout.frames].transpose(2, 1, 0), dtype=np.float64)
    some = np.unique(np.linspace(0, layout.frames - 1, 7).astype(int))
    expected = coordinates(layout, frames, some)
    lost = np.isnan(points[..., 0]) & ~negative
    if lost.any():  # a NaN of the file's own, or a sample that the library dropped
        rows = np.flatnonzero(lost.any(axis=1))
        own = coordinates(layout, frames, rows)
        if np.isfinite(own[lost[rows]]).all(axis=-1).any():
            raise _disagreement(layout)
    with np.errstate(invalid="ignore", over="ignore"):
        apart = np.abs(points[some] - expected) > 1e-5 * np.abs(expected) + 1e-6
    if apart[~negative[some]].any():
        raise _disagreement(layout)
    return points


def _disagreement(layout: Layout) -> ReadersDisagree:
    return ReadersDisagree(
        f"{layout.path}: two ways of reading its coordinates disagree, so none can be trusted; it is damaged, export "
        "it again"
    )


def judged(
    points: FloatArray,
    analogue: NDArray[Any] | None,
    negative: BoolArray,
    layout: Layout,
    named: Names,
    findings: list[Finding],
    sha256: str,
    zero_is_missing: bool,
    limits: Limits,
) -> Recording:
    """Missing samples marked, units settled, leaps named, by the ``limits`` of reading."""
    position = np.array([kind in _POSITIONS for kind in named.kinds], dtype=bool)
    marker = np.array([kind == MARKER for kind in named.kinds], dtype=bool)
    counted = marker if marker.any() else position
    largest = (samples.LARGEST_INTEGER - 0.5) * layout.scale if not layout.real else np.inf
    reach, counts = samples.mark_missing(
        points, negative, counted, zero_is_missing=zero_is_missing, largest=min(largest, 1e8)
    )
    if not np.isfinite(reach[:, position]).any():
        raise DataError(
            f"{layout.path}: holds no valid sample: no marker was seen in any of its {layout.frames} frames"
        )
    unit, about_unit = settle_unit(points, counted, named.unit, str(layout.path))
    factor = MILLIMETRES[unit]
    if factor != 1.0:
        points[:, position] *= factor
    far = (reach * factor >= limits["farthest"].value) & position
    points[far] = np.nan
    counts = replace(counts, out_of_range=counts.out_of_range + int(far[:, counted].sum()))
    if samples.median_speed(points[:, counted], layout.rate_hz) > limits["noise_speed"].value:
        raise DataError(
            f"{layout.path}: its markers leap so far from frame to frame that the coordinates are noise; scale, rate "
            "or the start of the data "
            "is wrong: export it again"
        )
    kept = np.flatnonzero(marker)
    printed = [shown(named.labels[k], named.prefixes) for k in kept]
    findings += [*named.findings, *about_unit, *samples.count_findings(counts)]
    findings += samples.leap_findings(points[:, kept], printed, layout.rate_hz, limits)
    findings += samples.frozen_findings(points[:, kept], printed, layout.rate_hz, limits)
    return Recording(
        path=layout.path,
        size=layout.size,
        sha256=sha256,
        labels=named.labels,
        kinds=named.kinds,
        points=points,
        rate_hz=layout.rate_hz,
        first_frame=layout.first_frame,
        unit=unit,
        said_unit=named.unit,
        unit_factor=factor,
        counts=counts,
        events=named.events,
        analogue_rate_hz=layout.rate_hz * layout.samples_per_frame if layout.channels else 0.0,
        analogue_labels=named.analogue,
        analogue=None if analogue is None else np.ascontiguousarray(analogue.T),
        force_plates=named.plates,
        prefixes=named.prefixes,
        subjects=named.subjects,
        storage=f"{_MACHINES[layout.processor]} {'reals' if layout.real else 'integers'}",
        findings=tuple(findings),
    )
