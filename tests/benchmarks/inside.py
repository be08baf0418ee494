"""One session in this process, taken apart: the library's reading, our judging, every stage, bookkeeping, writing."""

import functools
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest.mock import patch

import ezc3d
import xarray as xr

from condyle import results, session
from condyle.files.c3d import C3DReader, Recording
from condyle.stages import STAGES, contributions
from tests.benchmarks.clock import Spent, cost_of

_ORDER = [stage.name for stage in STAGES]
AFTER_MEASURES = tuple(_ORDER[_ORDER.index("measures") + 1 :])
ATTRIBUTION = ("leg_through", "account_courses", "account_values", "bottom_tables")  # of the stage contributions
_OF_DATASETS = ("__init__", "__getitem__", "__contains__", "assign", "assign_attrs", "copy", "drop_vars")
_OF_US = ("put", "disagreements")  # condyle's own bookkeeping, wherever a module has imported it


class Inside:
    """A session whose files are read once; every round computes it anew from them and times the parts."""

    def __init__(self, folder: Path) -> None:
        self._stages = tuple(replace(stage, run=self._timed(stage.name, stage.run)) for stage in STAGES)
        self._spent: dict[str, Spent] = {}
        self._within = False
        self._on_datasets = 0.0
        self._out = folder / "inside"
        self._planned = session.plan(folder, self._stages)
        planned = self._planned.session
        self.files = [planned.static, *(trial.file for trial in planned.trials)]
        self._options = self._planned.pipeline.read.model_dump()
        self._reader = C3DReader()
        self._recordings = self._read()
        frames = [len(recording.points) for recording in self._recordings.values()]
        self.frames, self.moving_frames = sum(frames), sum(frames[1:])

    def finish(self) -> None:
        """End the reading process."""
        self._reader.close()

    def round(self) -> dict[str, Spent]:
        """The cost of each part, measured once."""
        out = {
            "ezc3d": cost_of(lambda: [ezc3d.c3d(str(path)) for path in self.files]),
            "reader": cost_of(self._read),
        }
        with patch.object(session, "_read_ahead", self._already_read):
            self._spent = {}
            with ExitStack() as timers:
                timers.enter_context(patch.object(session, "trial_from", self._timed("read", session.trial_from)))
                for name in ATTRIBUTION:
                    call = getattr(contributions, name)
                    timers.enter_context(patch.object(contributions, name, self._timed("attribution", call)))
                done: list[session.SessionResult] = []
                whole = cost_of(lambda: done.append(session.compute(self._planned)))
            out |= self._spent
            later = [self._spent[name] for name in AFTER_MEASURES if name in self._spent]
            out["numeric"] = Spent(whole.cpu - sum(s.cpu for s in later), whole.clock - sum(s.clock for s in later))
            out["bookkeeping"] = self._bookkeeping()
        folder = results.prepare(self._planned, self._out, overwrite=True)
        out["writing"] = cost_of(lambda: results.write(done[0], folder))
        return out

    def modules(self) -> list[str]:
        """The libraries' modules that are loaded for all this, to be imported by a bare process as well."""
        import subprocess

        script = (
            "import sys\nfrom condyle.session import process\n"
            f"process({str(self._planned.session.folder)!r}, {str(self._out)!r}, overwrite=True)\n"
            "print(*sys.modules)"
        )
        loaded = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True).stdout
        wanted = ("numpy", "scipy", "pandas", "xarray", "pydantic", "yaml", "h5netcdf", "h5py")
        public = [m for m in loaded.split() if m.split(".")[0] in wanted and "._" not in m and not m.startswith("_")]
        return [m for m in public if m.count(".") < 2]

    def _read(self) -> dict[Path, Recording]:
        return {path: self._reader.read(path, **self._options) for path in self.files}

    @contextmanager
    def _already_read(self, _planned: session.Plan, _reader: object) -> Iterator[dict[Path, "Future[Recording]"]]:
        futures: dict[Path, Future[Recording]] = {}
        for path, recording in self._recordings.items():
            futures[path] = Future()
            futures[path].set_result(recording)
        yield futures

    def _timed(self, name: str, run: Callable[..., Any]) -> Callable[..., Any]:
        def timed(*arguments: Any) -> Any:
            self._within = True
            before = self._on_datasets
            clock, cpu = time.perf_counter(), time.process_time()
            done = run(*arguments)
            took = Spent(time.process_time() - cpu, time.perf_counter() - clock)
            self._within = False
            old = self._spent.get(name, Spent(0.0, 0.0))
            self._spent[name] = Spent(old.cpu + took.cpu, old.clock + took.clock)
            if name in AFTER_MEASURES:
                self._on_datasets = before
            return done

        return timed

    def _bookkeeping(self) -> Spent:
        """All that is not inside a stage, and, inside, what is done to Datasets rather than to numbers."""
        self._spent, self._on_datasets = {}, 0.0
        with self._watched(), patch.object(session, "trial_from", self._timed("read", session.trial_from)):
            whole = cost_of(lambda: session.compute(self._planned))
        outside = whole.cpu - sum(s.cpu for s in self._spent.values())
        clock = whole.clock - sum(s.clock for s in self._spent.values())
        return Spent(outside + self._on_datasets, clock + self._on_datasets)

    @contextmanager
    def _watched(self) -> Iterator[None]:
        """Time what is done to Datasets, the outermost call only."""
        depth = 0

        def watch(call: Callable[..., Any]) -> Callable[..., Any]:
            @functools.wraps(call)
            def watched(*arguments: Any, **named: Any) -> Any:
                nonlocal depth
                depth += 1
                started = time.process_time()
                try:
                    return call(*arguments, **named)
                finally:
                    depth -= 1
                    if depth == 0 and self._within:
                        self._on_datasets += time.process_time() - started

            return watched

        patches = [patch.object(xr.Dataset, name, watch(getattr(xr.Dataset, name))) for name in _OF_DATASETS]
        for module in [m for n, m in sys.modules.items() if n.startswith("condyle.")]:
            patches += [
                patch.object(module, name, watch(getattr(module, name))) for name in _OF_US if name in vars(module)
            ]
        for p in patches:
            p.start()
        try:
            yield
        finally:
            for p in patches:
                p.stop()
