"""What happened when, by the file's own events?"""

import math
from dataclasses import dataclass
from itertools import pairwise

from condyle.files.c3d_layout import Layout
from condyle.files.c3d_structure import Structure
from condyle.files.label_text import clean
from condyle.findings import Finding


@dataclass(frozen=True, slots=True)
class Event:
    """``time_s`` counts from the first frame in the file, like the trial's time; ``inside`` = within its frames."""

    time_s: float
    label: str
    context: str
    inside: bool


def read_events(structure: Structure, layout: Layout) -> tuple[tuple[Event, ...], list[Finding]]:
    """The EVENT group's events, else the header's, in the order of time; those outside the frames are kept and
    reported.

    Times are stored from frame 1 of the capture (common practice, no source), as minutes and seconds in EVENT:TIMES.
    """
    times, labels, contexts = _from_parameters(structure)
    if not times:
        times = [time for time, _ in structure.header.events]
        labels = [clean(raw)[0] for _, raw in structure.header.events]
    start, last = (layout.first_frame - 1) / layout.rate_hz, (layout.frames - 1) / layout.rate_hz
    slack = 0.5 / layout.rate_hz
    events, findings = [], []
    unreadable = sum(not math.isfinite(t) for t in times)
    for k, time in enumerate(times):
        if math.isfinite(time):
            label, context = (names[k] if k < len(names) else "" for names in (labels, contexts))
            events.append(Event(time - start, label, context, -slack <= time - start <= last + slack))
    outside = sum(not event.inside for event in events) + unreadable
    if outside:
        text = f"events lie before the first frame or behind the last ({last:.3f} s); they were not used: check them"
        findings.append(Finding("events out of range", "file", float(outside), 0.0, "events", "review", text))
    if any(a.time_s > b.time_s for a, b in pairwise(events)):
        text = "events do not stand in the order of time in the file; they were sorted"
        findings.append(Finding("events out of order", "file", None, None, "", "pass", text))
    return tuple(sorted(events, key=lambda event: event.time_s)), findings


def _from_parameters(structure: Structure) -> tuple[list[float], list[str], list[str]]:
    record = next(iter(structure.all("EVENT", "TIMES")), None)
    values = record.numbers() if record is not None else ()
    if record is not None and len(record.dims) >= 1 and record.dims[0] == 2 and len(record.dims) > 1:
        times = [60.0 * values[i] + values[i + 1] for i in range(0, len(values) - 1, 2)]
    elif record is not None and record.dims == (2,) and structure.numbers("EVENT", "USED")[:1] == (1.0,):
        times = [60.0 * values[0] + values[1]]
    else:
        times = list(values)
    used = structure.numbers("EVENT", "USED")
    if used and 0 <= used[0] < len(times):
        times = times[: int(used[0])]
    texts = {name: [clean(raw)[0] for raw in structure.texts("EVENT", name)] for name in ("LABELS", "CONTEXTS")}
    return times, texts["LABELS"], texts["CONTEXTS"]
