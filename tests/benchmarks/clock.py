"""Processor time, time of the clock and peak memory, of a call or of a process with its children."""

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Spent:
    """Seconds of the processor and of the clock, and the peak memory of the largest process; 0 where not measured."""

    cpu: float
    clock: float
    peak_mb: float = 0.0


def cost_of(call: Callable[[], Any]) -> Spent:
    """What one call in this process costs, over all its threads."""
    clock, cpu = time.perf_counter(), time.process_time()
    call()
    return Spent(time.process_time() - cpu, time.perf_counter() - clock)


def process_cost(words: Sequence[str], environment: Mapping[str, str]) -> Spent:
    """What one process costs, with the children it waits for; it has to end with 0."""
    clock = time.perf_counter()
    with subprocess.Popen(words, stdout=subprocess.DEVNULL, env=dict(environment)) as process:
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise RuntimeError(f"{' '.join(words)} ended with {process.returncode}")
    unit = 1.0 if sys.platform == "darwin" else 1024.0  # ru_maxrss is in bytes there, in kilobytes elsewhere
    return Spent(used.ru_utime + used.ru_stime, time.perf_counter() - clock, used.ru_maxrss * unit / 1e6)


def median(rounds: Sequence[Spent]) -> Spent:
    """The median of each figure by itself."""
    return Spent(*(statistics.median(getattr(r, name) for r in rounds) for name in ("cpu", "clock", "peak_mb")))
