"""Which layout do header, parameters and file size agree on?

No number is trusted where the file offers a second. Each quantity that decides where a coordinate stands has its
witnesses;
where they contradict each other, the combination that fills the file exactly (up to the filler of its last block of
512 bytes)
is taken and reported, and a file that none or several of them fill is refused.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

from condyle.errors import DataError
from condyle.files.c3d_filler import count_by_size, only_filler, tail
from condyle.files.c3d_layout import Layout
from condyle.files.c3d_rates import settle_rate, settle_scale
from condyle.files.c3d_structure import Structure
from condyle.files.c3d_values import BLOCK, REAL
from condyle.files.c3d_witnesses import ADVICE, SATURATED, WRAP, Witnesses, contradictions, trial_fields, witnesses
from condyle.findings import Finding

_MOST_FILLER = 16 * BLOCK
_OR_ACCEPT = ", or set `read: {accept_truncated: true}` in the pipeline to use the frames that are there"


def settle(structure: Structure, *, accept_truncated: bool = False) -> Layout:
    """The layout all sources agree on, or the one the size settles; DataError where it cannot be settled."""
    _refuse_bare(structure)
    said = witnesses(structure)
    findings = [
        Finding("parameter section", "file", None, None, "", "review", f"{text}; {ADVICE}")
        for text in dict.fromkeys(structure.oddities)
    ]
    if not any(said.points.values()):
        raise DataError(
            f"{structure.path}: holds no points, at most analogue channels; nothing can be computed from it"
        )
    if not any(frames > 0 for frames in said.frames.values()) and structure.size < WRAP * 8:  # else a word was full
        raise DataError(f"{structure.path}: holds no frames; record or export it again")
    findings += _absent(structure)
    candidates = list(_candidates(structure, said))
    if not candidates:
        raise _unsettled(structure, said)
    if len({(c.points, c.analogue_per_frame, c.frames, c.real, c.data_start) for c in candidates}) == 1:
        layout = _agreed(_best_split(candidates, said), said, accept_truncated=accept_truncated)
    else:
        layout = _settled_by_size(candidates, structure, said, accept_truncated=accept_truncated)
    if layout.frames >= SATURATED and layout.left >= layout.frame_bytes > 0:
        layout = count_by_size(layout)  # a word was full, and there is more
    findings += [*contradictions(layout, said), *_analogue_rate(structure, layout, said)]
    if layout.points <= 0 or layout.frames <= 0:
        raise DataError(f"{structure.path}: by its size it holds {layout.points} points in {layout.frames} frames")
    rate, about_rate = settle_rate(structure, layout.channels, layout.samples_per_frame)
    scale, about_scale = settle_scale(structure, real=layout.real)
    first, about_first = _first_frame(structure, layout)
    findings += [*about_rate, *about_scale, *about_first, *_frame_findings(layout)]
    used_as_real = any(r.kind == REAL for name in ("USED", "FRAMES") for r in structure.all("POINT", name))
    plain = not (findings or structure.unsafe or used_as_real) and layout.frames < SATURATED
    plain = plain and layout.processor != "mips"  # the c3d package is strict about what stands beside the coordinates
    return replace(layout, rate_hz=rate, scale=scale, first_frame=first, plain=plain, findings=tuple(findings))


def _absent(structure: Structure) -> Iterator[Finding]:
    """Parameters that every file should have."""
    wanted = [("POINT", name) for name in ("USED", "FRAMES", "SCALE", "RATE", "DATA_START")]
    if structure.header.analogue_per_frame or any(structure.numbers("ANALOG", "USED")):
        wanted += [("ANALOG", "USED"), ("ANALOG", "RATE")]
    absent = [f"{group}:{name}" for group, name in wanted if not structure.numbers(group, name)]
    if absent:
        text = f"no {', no '.join(absent)}; what the header says was confirmed by the size or another parameter"
        yield Finding("parameter section", "file", None, None, "", "review", text)


def _analogue_rate(structure: Structure, layout: Layout, said: Witnesses) -> Iterator[Finding]:
    """An analogue rate that is no multiple of the frame rate tells no samples per frame, and is reported."""
    rate = structure.numbers("ANALOG", "RATE")
    if layout.channels and rate and rate[0] > 0 and len(said.per_frame) < 2:
        text = f"it is no multiple of the frame rate; {layout.samples_per_frame} samples per frame are in the file"
        yield Finding("analogue rate", "file", rate[0], None, "Hz", "review", text)


def _refuse_bare(structure: Structure) -> None:
    missing = [f"POINT:{name}" for name in ("SCALE", "RATE", "DATA_START") if not structure.numbers("POINT", name)]
    if len(missing) > 1:
        raise DataError(
            f"{structure.path}: has no {' and no '.join(missing)}, so nothing confirms the header; it is damaged or "
            "was written by a "
            "program that leaves them out: export it again"
        )


def _frame_counts(said: Witnesses, holds: int) -> list[int]:
    """Every count that may be meant: as said, and as said by a word that wrapped round at 65536."""
    counts = {f for f in said.frames.values() if f > 0}
    if max(counts, default=0) >= SATURATED or holds > SATURATED:
        counts |= {
            f + WRAP * k for f in said.frames.values() if -WRAP < f <= SATURATED for k in range(1, holds // WRAP + 1)
        }
    return sorted(f for f in counts if f > 0)


def _candidates(structure: Structure, said: Witnesses) -> Iterator[Layout]:
    """Every layout that some combination of witnesses makes."""
    starts = {d for d in said.data_start.values() if structure.end <= d < structure.size}
    if not starts:
        start = said.data_start["the header"]
        where = "behind the end of the file" if start >= structure.size else "inside the parameter section"
        raise DataError(f"{structure.path}: its data should begin at byte {start}, {where}; it is truncated or damaged")
    analogue = {
        (c, s if c else 0) for c, s in product(set(said.channels.values()), {s for s in said.per_frame.values() if s})
    }
    analogue = analogue or {(c, c and 1) for c in set(said.channels.values())} or {(0, 0)}
    for real, start, points, (channels, per_frame) in product(
        sorted(set(said.real.values())), sorted(starts), sorted(set(said.points.values())), sorted(analogue)
    ):
        if points < 0 or channels < 0:
            continue
        layout = Layout(
            structure.path, structure.size, structure.processor, real, points, channels, per_frame, 0, 0, start
        )
        if not layout.frame_bytes:
            yield layout
            continue
        for frames in _frame_counts(said, (structure.size - start) // layout.frame_bytes):
            yield replace(layout, frames=frames, declared_frames=frames)


def _agreed(layout: Layout, said: Witnesses, *, accept_truncated: bool) -> Layout:
    """No contradiction: only a file too short, or a count that stands for 'more than a word can hold'."""
    if layout.left >= 0:
        return layout
    holds = max(layout.size - layout.data_start, 0) // max(layout.frame_bytes, 1)
    if not accept_truncated or holds == 0:
        raise DataError(
            f"{layout.path}: is truncated: {layout.frames} frames are declared and {holds} are there"
            + f"; copy it again{_OR_ACCEPT * (holds > 0)}"
        )
    return replace(layout, frames=holds)


def _settled_by_size(
    candidates: list[Layout], structure: Structure, said: Witnesses, *, accept_truncated: bool
) -> Layout:
    """The layout that fills the file; refused where none or several do."""
    fitting = [c for c in candidates if 0 <= c.left <= BLOCK]
    fitting = [c for c in fitting if not only_filler(c)] if len(fitting) > 1 else fitting
    if not fitting:
        fitting = [c for c in candidates if BLOCK < c.left <= _MOST_FILLER and not any(tail(c, c.left))]
    if not fitting and all(f >= SATURATED or f <= 0 for name, f in said.frames.items() if name != "the header"):
        counted = {
            replace(count_by_size(c), declared_frames=0) for c in candidates if c.frame_bytes and c.left >= BLOCK
        }
        fitting = list(counted) if len({c.frame_bytes for c in counted}) == 1 else []
    if not fitting:
        return _truncated_all_the_same(candidates, structure, said, accept_truncated=accept_truncated)
    if len({(c.points, c.analogue_per_frame, c.frames, c.real, c.data_start) for c in fitting}) > 1:
        raise _unsettled(structure, said)
    return _best_split(fitting, said)


def _best_split(layouts: list[Layout], said: Witnesses) -> Layout:
    """Of layouts that differ only in how many channels share the analogue values of a frame, the best confirmed one.

    ANALOG:USED counts channels; the header holds only the product and the samples.
    """

    def confirmed(layout: Layout) -> tuple[bool, int]:
        used = [value for name, value in said.channels.items() if name != "the header"]
        agreeing = [v == layout.samples_per_frame for v in said.per_frame.values()]
        return layout.channels in used, sum(agreeing) + (layout.channels == said.channels.get("the header"))

    return max(layouts, key=confirmed)


def _truncated_all_the_same(
    candidates: list[Layout], structure: Structure, said: Witnesses, *, accept_truncated: bool
) -> Layout:
    """Frames contradict or wrap, but all that may be meant are more than the file holds: then it is truncated and no
    more.
    """
    if len({(c.points, c.analogue_per_frame, c.real, c.data_start) for c in candidates}) == 1 and all(
        c.left < 0 for c in candidates
    ):
        return _agreed(min(candidates, key=lambda c: c.frames), said, accept_truncated=accept_truncated)
    raise _unsettled(structure, said)


def _unsettled(structure: Structure, said: Witnesses) -> DataError:
    """The contradiction in words."""
    parts = [
        f"{what}: " + ", ".join(f"{name} says {value}" for name, value in values.items())
        for what, values in (
            ("points", said.points),
            ("analogue channels", said.channels),
            ("analogue samples per frame", said.per_frame),
            ("frames", said.frames),
            ("data begin at byte", said.data_start),
            ("stored as reals", said.real),
        )
        if len(set(values.values())) > 1
    ]
    return DataError(
        f"{structure.path}: header and parameters contradict each other and the size of the file ({structure.size} "
        "bytes) does not settle it: "
        f"{'; '.join(parts) or 'nothing says how its numbers are stored'}; {ADVICE}"
    )


def _frame_findings(layout: Layout) -> Iterator[Finding]:
    if layout.frames < layout.declared_frames:
        text = "the file is truncated; only what is there was used"
        yield Finding(
            "truncated", "file", float(layout.frames), float(layout.declared_frames), "frames", "review", text
        )
    elif layout.declared_frames == 0 or layout.frames > layout.declared_frames:
        text = "no source holds the true count; frames were counted by the size of the file and filler was cut off"
        yield Finding("frames counted by size", "file", float(layout.frames), None, "frames", "review", text)
    elif layout.left > BLOCK:
        text = "there is more behind the last declared frame than filler; check that the recording is whole"
        yield Finding("bytes behind the data", "file", float(layout.left), float(BLOCK), "bytes", "review", text)


def _first_frame(structure: Structure, layout: Layout) -> tuple[int, list[Finding]]:
    """The number of the first frame: the header's unless TRIAL fits the frame count better."""
    h = structure.header
    start, end = trial_fields(structure)
    trial_fits = start is not None and end is not None and end - start + 1 == layout.declared_frames
    header_fits = (h.last - h.first + 1) % WRAP == layout.declared_frames % WRAP or h.last == SATURATED
    first = start if trial_fits and start is not None else h.first
    if (trial_fits and first == h.first) or (start is None and header_fits):
        return first, []
    if trial_fits or header_fits:
        text = f"the header says {h.first}, TRIAL:ACTUAL_START_FIELD {start}; {first} was used for the times of events"
    else:
        text = f"the header counts {h.first} to {h.last}, not as many frames as there are; events may be shifted"
    return first, [Finding("first frame", "file", float(h.first), float(first), "", "review", text)]
