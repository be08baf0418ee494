"""Reading a C3D file: what it claims is settled first, then ezc3d reads it in a process of its own, then every
sample is judged.
"""

import contextlib
import hashlib
import threading
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from condyle.errors import DataError
from condyle.files.c3d_image import image
from condyle.files.c3d_layout import Layout
from condyle.files.c3d_names import Names
from condyle.files.c3d_raw import negative_residuals, raw_frames
from condyle.files.c3d_settle import settle
from condyle.files.c3d_structure import Structure, read_structure
from condyle.files.judging import ReadersDisagree, all_invalid, checked, judged
from condyle.files.reading_limits import reading_limits
from condyle.files.reading_process import ReadError, ReadingProcess
from condyle.files.recording import ForcePlate, Recording
from condyle.files.units import MILLIMETRES
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray

__all__ = ["C3DReader", "ForcePlate", "ReadError", "Recording", "read_c3d"]


class C3DReader:
    """Reads many files with one reading process, which starts at once and comes up while its user goes on."""

    def __init__(self) -> None:
        self._process = ReadingProcess()
        self._lock = threading.Lock()  # one request at a time

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
        limits: Mapping[str, float] | None = None,
    ) -> Recording:
        """The recording in a C3D file; DataError, with the file and the reason, where it cannot be trusted.

        zero_is_missing    : a sample at (0, 0, 0) was not seen
        accept_truncated   : use the frames that are there where more are declared
        accept_all_invalid : use the coordinates where every single sample is marked invalid
        analogue, forces   : read the analogue channels, extract the force plates
        limits             : changes to the limits of configs/reading.yaml
        """
        path = Path(path)
        structure = read_structure(path)
        layout = settle(structure, accept_truncated=accept_truncated)
        frames = raw_frames(layout)
        negative = negative_residuals(layout, frames)
        findings = list(layout.findings)
        as_it_is = layout.plain
        if negative.all():
            negative = all_invalid(layout, frames, negative, findings, accept=accept_all_invalid)
            as_it_is = False  # the library would withhold every sample
        want = ["points", *(["analogue"] if analogue and layout.channels else [])]
        try:
            points, samples, named, sha256 = self._read(structure, layout, frames, negative, want, as_it_is=as_it_is)
        except (ReadError, ReadersDisagree) as error:
            if not as_it_is or getattr(error, "kind", "") in ("time", "module"):
                raise
            text = f"read from a plain copy of its frames ({str(error).removeprefix(f'{path}: ')})"
            findings.append(Finding("reading", "file", None, None, "", "review", text))
            points, samples, named, sha256 = self._read(structure, layout, frames, negative, want, as_it_is=False)
        del frames
        recording = judged(
            points, samples, negative, layout, named, findings, sha256, zero_is_missing, reading_limits(limits)
        )
        return self._with_forces(recording, structure, layout) if forces and recording.force_plates else recording

    def _read(
        self,
        structure: Structure,
        layout: Layout,
        frames: NDArray[Any],
        negative: BoolArray,
        want: list[str],
        *,
        as_it_is: bool,
    ) -> tuple[FloatArray, NDArray[Any] | None, Names, str]:
        """Coordinates and analogue samples by the library; names and fingerprint meanwhile by ourselves."""
        copy = image(layout, structure, negative, analogue="analogue" in want)
        source = contextlib.nullcontext(layout.path) if as_it_is else copy
        library = "c3d" if layout.processor == "mips" else "ezc3d"
        with self._lock, source as path:
            question = self._process.ask(path, want, layout.size, said=layout.path, library=library)
            try:
                with layout.path.open("rb") as file:
                    sha256 = hashlib.file_digest(file, "sha256").hexdigest()
                named = Names(structure, layout)
                arrays = question.answer()[1]
            except ReadError:
                raise
            except BaseException:  # an interrupt too: a reply that nobody fetched would be taken for the next one
                self._process.close()
                raise
        return checked(arrays["points"], layout, frames, negative), arrays.get("analogue"), named, sha256

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
        nothing = np.zeros((layout.frames, layout.points), dtype=bool)
        copy = image(layout, structure, nothing, forces=True)
        source = contextlib.nullcontext(layout.path) if layout.plain else copy
        with self._lock, source as path:
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


def read_c3d(path: str | Path, **options: Any) -> Recording:
    """The recording in one C3D file; options as in ``C3DReader.read``."""
    with C3DReader() as reader:
        return reader.read(path, **options)
