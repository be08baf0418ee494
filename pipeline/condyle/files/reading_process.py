"""Where a library that reads C3D files may crash, hang or eat memory, and what is said when it does."""

import contextlib
import json
import os
import select
import signal
import struct
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

import condyle
from condyle.errors import DataError

MEGABYTE = 1_000_000
BASE_SECONDS, SECONDS_PER_MEGABYTE = 10.0, 0.1
BASE_MEMORY, MEMORY_PER_BYTE = 512 * 1024 * 1024, 24
RENEW_AFTER = 500  # requests, so that a library that leaks a little never grows far
_ONE_THREAD = {name: "1" for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS")}

Reply = tuple[dict[str, Any], dict[str, np.ndarray[Any, Any]]]


class ReadError(DataError):
    """The library failed; ``kind`` is crash, time, memory, module or library."""

    def __init__(self, kind: str, sentence: str) -> None:
        self.kind = kind
        super().__init__(sentence)


class ReadingProcess:
    """One long-lived child that reads; started early, it comes up while its parent goes on importing."""

    def __init__(self, command: Sequence[str] | None = None) -> None:
        self._command = list(command) if command else [sys.executable, "-P", "-m", "condyle.files.reader"]
        self._process: subprocess.Popen[bytes] | None = None
        self._asked = 0
        self.start()

    def start(self) -> None:
        """Start the child unless it runs; does not wait for it."""
        if self._process is None or self._process.poll() is not None or self._asked >= RENEW_AFTER:
            self.close()
            root = str(Path(condyle.__file__).parents[1])
            found = os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])
            self._errors = tempfile.TemporaryFile()  # noqa: SIM115 (lives as long as the child)
            self._process = subprocess.Popen(
                self._command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self._errors,
                bufsize=0,
                pipesize=1024 * 1024,
                env={**os.environ, **_ONE_THREAD, "PYTHONPATH": found},
            )
            self._asked = 0

    @property
    def pid(self) -> int | None:
        """The child's number, while there is one."""
        return None if self._process is None else self._process.pid

    def close(self) -> None:
        """End the child."""
        process, self._process = self._process, None
        if process is not None:
            for pipe in (process.stdin, process.stdout):
                if pipe is not None:
                    with contextlib.suppress(OSError):
                        pipe.close()
            process.kill()  # it holds nothing that needs an orderly end, which takes it a tenth of a second
            process.wait()
            self._errors.close()

    def ask(self, path: Path, want: Sequence[str], size: int, *, said: Path, library: str = "ezc3d") -> "Question":
        """Send a request; the answer is fetched later, so that the caller can work meanwhile. ``said`` is named in
        errors.
        """
        self.start()
        question = Question(self, said, size, library)
        request = {
            "path": os.path.abspath(path),
            "want": list(want),
            "library": library,
            "memory": BASE_MEMORY + MEMORY_PER_BYTE * size if sys.platform != "darwin" else None,
            "seconds": question.seconds,
        }
        self._asked += 1
        assert self._process is not None
        assert self._process.stdin is not None
        with contextlib.suppress(BrokenPipeError):  # its end is found, and named, when the answer is fetched
            self._process.stdin.write(json.dumps(request).encode() + b"\n")
        return question

    def _ended(self) -> tuple[int, bytes]:
        """How the child ended, and the last it said."""
        assert self._process is not None
        status = self._process.wait()
        self._errors.seek(0)
        return status, self._errors.read()[-4000:]


class Question:
    """A request on its way; ``answer`` waits for the reply within the time that the file's size allows."""

    def __init__(self, process: ReadingProcess, said: Path, size: int, library: str) -> None:
        self.seconds = BASE_SECONDS + SECONDS_PER_MEGABYTE * size / MEGABYTE
        self._owner, self._said, self._size, self._library = process, said, size, library

    def answer(self) -> Reply:
        """The reply; a ReadError that says whether it was a crash, the time, the memory or the library's own error."""
        child = self._owner._process
        assert child is not None
        assert child.stdout is not None
        deadline = time.monotonic() + self.seconds
        try:
            (length,) = struct.unpack("<Q", _exactly(child.stdout, 8, deadline))
            meta = json.loads(bytes(_exactly(child.stdout, length, deadline)))
            arrays = {}
            for a in meta.pop("arrays"):
                raw = _exactly(child.stdout, int(np.prod(a["shape"])) * np.dtype(a["type"]).itemsize, deadline)
                arrays[a["name"]] = np.frombuffer(raw, dtype=a["type"]).reshape(a["shape"])
        except TimeoutError:
            child.kill()
            raise self._lost(timed_out=True) from None
        except (EOFError, OSError):
            raise self._lost(timed_out=False) from None
        except BaseException:  # an interrupt: the rest of this reply must not be taken for the next
            self._owner.close()
            raise
        if "error" in meta:
            if meta["error"] == "memory":  # what is left of its memory may be in pieces
                self._owner.close()
            raise self._failed(meta["error"], meta["message"])
        return meta, arrays

    def _lost(self, *, timed_out: bool) -> ReadError:
        status, last = self._owner._ended()
        self._owner.close()
        if timed_out or status == -getattr(signal, "SIGALRM", 0) != 0:
            return ReadError(
                "time",
                f"{self._said}: reading was stopped after {self.seconds:.0f} s, far longer than a file of "
                f"{self._size / MEGABYTE:.1f} MB "
                f"takes: {self._library} does not come to an end on it; the file is damaged, export it again",
            )
        if b"bad_alloc" in last or b"MemoryError" in last:
            return self._failed("memory", "")
        name = signal.Signals(-status).name if status < 0 else f"exit status {status}"
        return ReadError(
            "crash", f"{self._said}: {self._library} crashed on it ({name}); the file is damaged, export it again"
        )

    def _failed(self, kind: str, message: str) -> ReadError:
        if kind == "memory":
            limit = (BASE_MEMORY + MEMORY_PER_BYTE * self._size) / MEGABYTE
            size = self._size / MEGABYTE
            text = f"reading needed more than {limit:.0f} MB of memory for a file of {size:.1f} MB; export it again"
        elif kind == "module" and self._library == "c3d":
            text = (
                "was written by a MIPS machine, which ezc3d does not read; install the package that does with "
                "`pip install 'condyle[legacy]'`"
            )
        elif kind == "module":
            text = f"cannot be read because the package {message} is not installed"
        else:
            text = f"{self._library} refuses it: {' '.join(message.split())[:300]}"
        return ReadError(kind, f"{self._said}: {text}")


def _exactly(pipe: Any, length: int, deadline: float) -> bytearray:
    """So many bytes of the reply; EOFError where the child has ended, TimeoutError where it takes too long."""
    buffer = bytearray(length)
    view, filled = memoryview(buffer), 0
    while filled < length:
        if not select.select([pipe], [], [], max(deadline - time.monotonic(), 0.0))[0]:
            raise TimeoutError
        got = pipe.readinto(view[filled:])
        if not got:
            raise EOFError
        filled += got
    return buffer
