"""Reading a C3D file: what it claims is settled first, then ezc3d reads it in a process of its own, then every
sample is judged.
"""

import contextlib
import hashlib
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from condyle.errors import DataError
from condyle.files import samples
from condyle.files.c3d_events import read_events
from condyle.files.c3d_image import image
from condyle.files.c3d_layout import Layout
from condyle.files.c3d_raw import coordinates, raw_frames, residual_sign
from condyle.files.c3d_settle import settle
from condyle.files.c3d_structure import Structure, read_structure
from condyle.files.label_text import clean, is_unlabelled, point_labels, prefixes, shown
from condyle.files.point_kinds import MARKER, point_kinds
from condyle.files.reading_process import ReadError, ReadingProcess
from condyle.files.recording import ForcePlate, Recording
from condyle.files.units import MILLIMETRES, settle_unit
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray

__all__ = ["C3DReader", "ForcePlate", "ReadError", "Recording", "read_c3d"]

_MACHINES = {"intel": "Intel", "dec": "DEC", "mips": "MIPS"}
_POSITIONS = ("marker", "unlabelled", "modelled")


class C3DReader:
    """Reads many files with one reading process, which starts at once and comes up while its user goes on."""

    def __init__(self) -> None:
        self._process = ReadingProcess()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """End the reading process; the next read starts another."""
        self._process.close()

    def read(
        self,
        path: str | Path,
        *,
        zero_is_missing: bool = True,
        accept_truncated: bool = False,
        accept_all_invalid: bool = False,
        analogue: bool = False,
        forces: bool = False,
    ) -> Recording:
        """The recording in a C3D file; DataError, with the file and the reason, where it cannot be trusted.

        zero_is_missing    : a sample at (0, 0, 0) was not seen
        accept_truncated   : use the frames that are there where more are declared
        accept_all_invalid : use the coordinates where every single sample is marked invalid
        analogue, forces   : read the analogue channels, extract the force plates
        """
        path = Path(path)
        structure = read_structure(path)
        layout = settle(structure, accept_truncated=accept_truncated)
        frames = raw_frames(layout)
        negative, same_signs = residual_sign(layout, frames)
        findings = list(layout.findings)
        if negative.all():
            negative = _all_invalid(layout, frames, negative, findings, accept=accept_all_invalid)
            same_signs = same_signs and bool(negative.all())
        want = ["points", *(["analogue"] if analogue and layout.channels else [])]
        source: contextlib.AbstractContextManager[Path] = contextlib.nullcontext(path)
        if not (layout.plain and same_signs):
            source = image(layout, structure, negative)
        library = "c3d" if layout.processor == "mips" else "ezc3d"
        with source as shown_path:
            question = self._process.ask(shown_path, want, layout.size, said=path, library=library)
            with path.open("rb") as file:  # the reading process works meanwhile
                sha256 = hashlib.file_digest(file, "sha256").hexdigest()
            named = _Names(structure, layout)
            arrays = question.answer()[1]
        points = _checked(arrays["points"], layout, frames, negative)
        del frames
        recording = _judged(
            points, arrays.get("analogue"), negative, structure, layout, named, findings, sha256, zero_is_missing
        )
        return self._with_forces(recording, structure, layout) if forces else recording

    def _with_forces(self, recording: Recording, structure: Structure, layout: Layout) -> Recording:
        """The plates, extracted apart from the markers: whatever is wrong with them, the markers stay."""
        try:
            plates = self._plates(structure, layout, recording.unit_factor)
            return replace(recording, forces=plates)
        except DataError as error:
            text = f"forces could not be extracted and are left out ({str(error).removeprefix(f'{recording.path}: ')})"
            finding = Finding("force plates", "file", float(recording.force_plates), None, "plates", "review", text)
            return replace(recording, forces=(), findings=(*recording.findings, finding))

    def _plates(self, structure: Structure, layout: Layout, unit_factor: float) -> tuple[ForcePlate, ...]:
        if layout.processor == "mips":
            raise DataError("ezc3d extracts forces, and it does not read files of MIPS machines")
        source: contextlib.AbstractContextManager[Path] = contextlib.nullcontext(layout.path)
        if not layout.plain:
            source = image(layout, structure, np.zeros((layout.frames, layout.points), dtype=bool))
        with source as path:
            meta, arrays = self._process.ask(path, ["forces"], layout.size, said=layout.path).answer()
        plates = []
        for k, plate in enumerate(meta["plates"]):
            factor = MILLIMETRES.get(plate["position_unit"].strip().lower(), unit_factor)
            rate = layout.rate_hz * max(layout.samples_per_frame, 1)
            force, moment, centre, corners = (
                arrays[f"{name}_{k}"] for name in ("force", "moment", "centre", "corners")
            )
            plates.append(ForcePlate(force, moment, centre * factor, corners * factor, plate["force_unit"], rate))
        return tuple(plates)


def read_c3d(path: str | Path, **options: bool) -> Recording:
    """The recording in one C3D file; options as in ``C3DReader.read``."""
    with C3DReader() as reader:
        return reader.read(path, **options)


class _Names:
    """What the parameters say beside the coordinates; read while the other process is busy."""

    def __init__(self, structure: Structure, layout: Layout) -> None:
        self.labels, odd = point_labels(structure, layout.points)
        self.kinds = point_kinds(structure, self.labels)
        self.prefixes = prefixes(self.labels)
        self.events, self.findings = read_events(structure, layout)
        self.findings = [Finding("labels", "file", None, None, "", "review", text) for text in odd] + self.findings
        self.analogue = tuple(clean(raw)[0] for raw in structure.texts("ANALOG", "LABELS")[: layout.channels])
        units = structure.texts("POINT", "UNITS")
        self.unit = clean(units[0])[0] if units else None
        self.plates = int((structure.numbers("FORCE_PLATFORM", "USED") or (0.0,))[0])
        self.subjects = len([t for t in structure.texts("SUBJECTS", "NAMES") if t.strip(b"\x00 ")])
        if all(is_unlabelled(label) for label in self.labels):
            text = "no point has a label, so no marker can be told; label them in the recording software"
            self.findings.append(Finding("labels", "file", 0.0, 1.0, "labels", "reject", text))
        if len(self.prefixes) > 1 or self.subjects > 1:
            text = (
                "there is more than one participant in the file; the marker set's prefix says whose markers are wanted"
            )
            number = float(max(len(self.prefixes), self.subjects))
            self.findings.append(
                Finding("participants in one file", "file", number, 1.0, "participants", "review", text)
            )


def _all_invalid(
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
            "if you know that the recording is sound, accept it on purpose (read: accept_all_invalid)"
        )
    text = "every sample is marked invalid (negative residual); the coordinates were used because that was accepted"
    findings.append(Finding("all samples marked invalid", "file", float(negative.size), 0.0, "samples", "review", text))
    return np.zeros_like(negative)


def _checked(read: NDArray[Any], layout: Layout, frames: NDArray[Any], negative: BoolArray) -> FloatArray:
    """What the library returned, (frames, points, 3), after a second look at the file's own bytes."""
    count = read.shape[2] if read.ndim == 3 else 0
    if read.shape[:2] != (3, layout.points) or count < layout.frames:
        raise DataError(
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


def _disagreement(layout: Layout) -> DataError:
    return DataError(
        f"{layout.path}: two ways of reading its coordinates disagree, so none can be trusted; it is damaged, export "
        "it again"
    )


def _judged(
    points: FloatArray,
    analogue: NDArray[Any] | None,
    negative: BoolArray,
    structure: Structure,
    layout: Layout,
    named: _Names,
    findings: list[Finding],
    sha256: str,
    zero_is_missing: bool,
) -> Recording:
    """Missing samples marked, units settled, leaps named."""
    position = np.array([kind in _POSITIONS for kind in named.kinds], dtype=bool)
    marker = np.array([kind == MARKER for kind in named.kinds], dtype=bool)
    counted = marker if marker.any() else position
    largest = (samples.LARGEST_INTEGER - 0.5) * layout.scale if not layout.real else np.inf
    points, counts = samples.mark_missing(
        points, negative, counted, zero_is_missing=zero_is_missing, largest=min(largest, 1e8)
    )
    if not np.isfinite(points[:, position]).any():
        raise DataError(
            f"{layout.path}: holds no valid sample: no marker was seen in any of its {layout.frames} frames"
        )
    unit, about_unit = settle_unit(points, counted, named.unit, str(layout.path))
    factor = MILLIMETRES[unit]
    if factor != 1.0:
        points[:, position] *= factor
    points, far = samples.mark_missing(
        points, np.isnan(points[..., 0]), counted, zero_is_missing=False, largest=samples.FARTHEST
    )
    counts = samples.SampleCounts(
        counts.total, counts.negative_residual, counts.zero, counts.not_finite, counts.out_of_range + far.out_of_range
    )
    if samples.median_speed(points[:, counted], layout.rate_hz) > samples.NOISE_M_PER_S:
        raise DataError(
            f"{layout.path}: its markers leap so far from frame to frame that the coordinates are noise; scale, rate "
            "or the start of the data "
            "is wrong: export it again"
        )
    kept = np.flatnonzero(marker)
    printed = [shown(named.labels[k], named.prefixes) for k in kept]
    findings += [*named.findings, *about_unit, *samples.count_findings(counts)]
    findings += samples.leap_findings(points[:, kept], printed, layout.rate_hz)
    findings += samples.frozen_findings(points[:, kept], printed, layout.rate_hz)
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
