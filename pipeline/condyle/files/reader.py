"""The reading process: ``python -m condyle.files.reader`` answers requests on its standard input, one after another.

It exists to be lost: a crash, a hang or runaway memory inside a C3D library ends this process and costs one file. It
imports
as little as it can, so that it stands ready after some 65 ms.

A request is a JSON object in one line: ``path``, ``want`` (of points, analogue, forces), ``library``, ``memory``
(bytes of
address space, or null) and ``seconds``. A reply is eight bytes of length, a JSON object of that length, and the
bytes of its ``arrays``.
"""

import contextlib
import json
import os
import signal
import struct
import sys
from typing import Any, BinaryIO

try:
    import resource
except ImportError:  # not on every platform; the time limit is still the parent's
    resource = None  # type: ignore[assignment]

Arrays = dict[str, Any]


def main() -> None:
    """Answer until the input ends."""
    replies = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a C library prints must not fall among the replies
    if resource is not None:
        resource.setrlimit(resource.RLIMIT_CORE, (0, resource.getrlimit(resource.RLIMIT_CORE)[1]))
    with contextlib.suppress(ImportError):  # before the first request comes; a missing package is said in the reply
        import ezc3d  # noqa: F401
    for line in sys.stdin.buffer:
        request = json.loads(line)
        _limit(request["memory"], request["seconds"])
        try:
            meta, arrays = (_with_c3d if request["library"] == "c3d" else _with_ezc3d)(request["path"], request["want"])
        except MemoryError:
            meta, arrays = {"error": "memory", "message": ""}, {}
        except ModuleNotFoundError as error:
            meta, arrays = {"error": "module", "message": str(error.name)}, {}
        except Exception as error:  # whatever a library raises belongs to the file, not to us
            kind = "memory" if "alloc" in str(error) else "library"
            meta, arrays = {"error": kind, "message": str(error) or type(error).__name__}, {}
        _reply(replies, meta, arrays)


def _limit(memory: int | None, seconds: float) -> None:
    """Memory for this request; and an end of our own, should the parent be gone when the time is up."""
    if resource is not None and memory is not None:
        hard = resource.getrlimit(resource.RLIMIT_AS)[1]
        resource.setrlimit(resource.RLIMIT_AS, (memory if hard == resource.RLIM_INFINITY else min(memory, hard), hard))
    if hasattr(signal, "alarm"):
        signal.alarm(int(seconds) + 15)


def _reply(replies: BinaryIO, meta: dict[str, Any], arrays: Arrays) -> None:
    meta["arrays"] = [{"name": name, "shape": a.shape, "type": a.dtype.str} for name, a in arrays.items()]
    head = json.dumps(meta).encode()
    replies.write(struct.pack("<Q", len(head)) + head)
    for array in arrays.values():
        replies.write(memoryview(array).cast("B") if array.size else b"")
    replies.flush()
    if hasattr(signal, "alarm"):
        signal.alarm(0)


def _with_ezc3d(path: str, want: list[str]) -> tuple[dict[str, Any], Arrays]:
    """Ask ezc3d's own layer for what is wanted only; its convenience class converts every parameter first."""
    import numpy as np
    from ezc3d import ezc3d

    file = ezc3d.c3d(path, ezc3d.Options(keepParametersTrailingSpaces=False, ignoreBadFormatting=False))
    arrays: Arrays = {}
    meta: dict[str, Any] = {}
    if "points" in want:
        arrays["points"] = np.ascontiguousarray(file.get_points()[:3])
    if "analogue" in want:
        arrays["analogue"] = np.ascontiguousarray(file.get_analogs()[0])
    if "forces" in want:
        plates = ezc3d.ForcePlatforms(file).forcePlatforms()
        meta["plates"] = [
            {"force_unit": p.forceUnit(), "moment_unit": p.momentUnit(), "position_unit": p.positionUnit()}
            for p in plates
        ]
        for k, plate in enumerate(plates):
            for name, values in (("force", plate.forces()), ("moment", plate.moments()), ("centre", plate.CoP())):
                rows = [v.to_array()[:, 0] for v in values]
                arrays[f"{name}_{k}"] = np.ascontiguousarray(rows, dtype=float).reshape(-1, 3)
            arrays[f"corners_{k}"] = np.ascontiguousarray(
                [c.to_array()[:, 0] for c in plate.corners()], dtype=float
            ).reshape(-1, 3)
    return meta, arrays


def _with_c3d(path: str, want: list[str]) -> tuple[dict[str, Any], Arrays]:
    """The pure-Python reader, for what ezc3d refuses: files of MIPS machines."""
    import c3d
    import numpy as np

    with open(path, "rb") as handle:
        file = c3d.Reader(handle)
        frames = list(file.read_frames(copy=True))
    points = np.array([points[:, :3] for _, points, _ in frames], dtype=float)
    arrays: Arrays = {"points": np.ascontiguousarray(points.transpose(2, 1, 0))}
    if "analogue" in want:
        arrays["analogue"] = np.ascontiguousarray(
            np.concatenate([analogue for _, _, analogue in frames], axis=1), dtype=float
        )
    return {}, arrays


if __name__ == "__main__":
    main()
