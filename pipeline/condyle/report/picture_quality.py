"""When was each marker seen, when was anything found, and did the segments keep their standing shape?"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import SEGMENTS
from condyle.findings import ACCEPTED, Finding, gravity
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.gaps import runs_of
from condyle.report.drawing import GREY, INK, PALE, Picture, margins
from condyle.report.words import joined, number
from condyle.stages.checks.traces import MISSING, SEEN, Traces, history, quality_traces

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import FigureBase

_MOST_MARKERS, _MOST_MOMENTS, _MOST_POINTS = 24, 12, 700
_FILLED = {  # state: words, colour, height of the bar (so that grey prints and colour-blind readers tell them)
    1: ("rebuilt from its rigid cluster", "#7fb2dc", 0.45),
    2: ("bridged by a spline", "#d98a00", 0.65),
    3: ("rebuilt by the pelvis ladder", "#6d3b7c", 0.45),
    MISSING: ("missing", INK, 0.9),
}
_TRACE, _BEYOND_REVIEW, _BEYOND_REJECT = "#14507d", "#e9b44c", INK
_ROW, _TRACE_ROW = 0.155, 0.42  # inches
_TOP, _GAP, _BOTTOM, _RIGHT = 0.3, 0.42, 0.85, 0.85
_LETTER = 0.058  # inches: width of a bold letter beside the timeline, on average
_FULL = 2.0  # a trace's row is so many times the limit of rejection high; what is higher is cut off and written


class _Moments(NamedTuple):
    """A row of the timeline: what was found, on what, when."""

    words: str
    rejects: bool
    when: tuple[tuple[float, float], ...]


def quality_picture(trial: xr.Dataset, name: str, label: str = "", findings: Sequence[Finding] = ()) -> Picture | None:
    """Timeline of findings and gaps, worst first, and below it every segment's distance from its standing shape.

    ``findings`` are the trial's; those that say when stand in the timeline.
    """
    if "point" not in trial:
        return None
    traces = quality_traces(trial)
    label = label or str(trial.attrs.get("trial", ""))
    moments = _moments(findings)
    lost = traces.state != SEEN
    troubled = [k for k in np.argsort(-lost.mean(axis=0), kind="stable").tolist() if lost[:, k].any()]
    shown = troubled[:_MOST_MARKERS]
    known = [s for s in range(len(SEGMENTS)) if np.isfinite(traces.fit[:, s]).any()]
    upper = _ROW * max(2, len(moments[:_MOST_MOMENTS]) + len(shown))
    lower = _TRACE_ROW * len(known)
    longest = max(map(len, [*(m.words for m in moments[:_MOST_MOMENTS]), *(traces.label[k] for k in shown)]), default=0)
    left = min(max(1.15, 0.2 + _LETTER * longest), 2.7)
    height = _TOP + upper + (_GAP + lower if known else 0.0) + _BOTTOM

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        tracks = [upper, lower] if known else [upper]
        panels = figure.subplots(len(tracks), 1, sharex=True, squeeze=False, height_ratios=tracks)[:, 0]
        grid = (len(panels), 1)
        margins(figure, (width, tall), left=left, right=_RIGHT, top=_TOP, bottom=_BOTTOM, down=_GAP, grid=grid)
        for panel in panels:
            _repetitions(panel, trial)
            panel.grid(visible=False, axis="y")
        _timeline(panels[0], traces, moments[:_MOST_MOMENTS], shown)
        if known:
            _fits(panels[1], traces, known)
            panels[1].set_title("Distance from the standing shape (mm, root mean square)")
        panels[0].set_title(_heading(label, bool(moments), bool(troubled)), x=-left / (width - left - _RIGHT))
        panels[-1].set_xlabel("time (s)" + ("; repetitions shaded" if trial.sizes.get("repetition", 0) else ""))
        panels[-1].set_xlim(traces.time[0], max(traces.time[-1], traces.time[0] + 1e-3))
        _legend(figure, traces, shown, moments, known)

    return Picture(
        name,
        f"Trial {label}: were the markers there, and did the segments keep their shape?",
        _said(label, traces, [traces.label[k] for k in troubled], known, trial),
        height,
        draw,
        _note(traces, len(troubled), len(moments), known, trial.attrs.get("task") == "static"),
    )


def _heading(label: str, moments: bool, troubled: bool) -> str:
    if not troubled:
        seen = "every marker was seen in every frame"
        return f"{label}: what was found when; {seen}" if moments else f"{label}: {seen}"
    return f"{label}: {'what was found when, and ' * moments}samples missing or filled, worst first"


def _moments(findings: Sequence[Finding]) -> list[_Moments]:
    """Findings that say when, worst first; those on the same thing in one row."""
    timed = [f for f in findings if f.times_s and f.verdict != "pass"]
    timed.sort(key=lambda f: gravity(f.verdict, f.advice, f.value, f.limit), reverse=True)
    rows: dict[tuple[str, str], _Moments] = {}
    for f in timed:
        subject = "" if f.subject == "file" else f"{_spoken(f.subject) if f.subject in SEGMENTS else f.subject}: "
        before = rows.get((f.subject, f.check), _Moments("", False, ()))
        rejects = before.rejects or f.verdict == "reject" or f.advice.startswith(ACCEPTED)
        rows[f.subject, f.check] = _Moments(f"{subject}{f.check}", rejects, (*before.when, *f.times_s))
    return list(rows.values())


def _repetitions(axes: "Axes", trial: xr.Dataset) -> None:
    if "repetition_start_s" not in trial:
        return
    ends = zip(*(trial.variables[f"repetition_{n}_s"].values for n in ("start", "end")), strict=True)
    for start, end in sorted(set(ends)):
        axes.axvspan(start, end, color="#eef1f4", lw=0, zorder=0)


def _timeline(axes: "Axes", traces: Traces, moments: list[_Moments], shown: list[int]) -> None:
    time, rows = traces.time, [m.words for m in moments] + [traces.label[k] for k in shown]
    step = float(np.median(np.diff(time))) if time.size > 1 else 1.0
    for row, moment in enumerate(moments):
        _mark(axes, row, moment, step)
    for row, k in enumerate(shown, start=len(moments)):
        for value, (_, colour, tall) in _FILLED.items():
            bars = [(time[a] - step / 2, (b - a) * step) for a, b in runs_of(traces.state[:, k] == value)]
            if bars:
                axes.broken_barh(bars, (row - tall / 2, tall), facecolors=colour, edgecolors=colour, linewidth=0.5)
    if moments and shown:
        axes.axhline(len(moments) - 0.5, color=PALE, lw=0.7)
    axes.set_yticks(range(len(rows)), rows, fontsize=6.8)
    for text in axes.get_yticklabels()[: len(moments)]:
        text.set_fontweight("bold")
    axes.set_ylim(max(len(rows), 1) - 0.4, -0.6)
    axes.tick_params(axis="y", length=0)


def _mark(axes: "Axes", row: int, moment: _Moments, step: float) -> None:
    """Stretches as bars, single moments as triangles; filled where it rejects, open where it calls for a review."""
    face = INK if moment.rejects else "#ffffff"
    long = [(a - step / 2, b - a + step) for a, b in moment.when if b - a > 2 * step]
    short = [(a + b) / 2 for a, b in moment.when if b - a <= 2 * step]
    if long:
        axes.broken_barh(long, (row - 0.25, 0.5), facecolors=face, edgecolors=INK, linewidth=0.9)
    if short:
        axes.plot(short, [row] * len(short), "v", color=INK, mfc=face, ms=4.2, mew=0.9, ls="none", clip_on=False)


def _fits(axes: "Axes", traces: Traces, known: list[int]) -> None:
    """A row per segment, all with the limit of rejection at the same height: what is beyond it shows at a glance."""
    every = max(1, traces.time.size // _MOST_POINTS)
    time = traces.time[::every]
    for row, s in enumerate(known):
        fit, floor = _largest(traces.fit[:, s], every), float(len(known) - 1 - row)
        full = _FULL * traces.reject[s] * 1.12  # a little air below the next row
        height = floor + np.minimum(fit, _FULL * traces.reject[s]) / full
        with np.errstate(invalid="ignore"):
            for limit, colour in ((traces.review[s], _BEYOND_REVIEW), (traces.reject[s], _BEYOND_REJECT)):
                axes.fill_between(time, floor + limit / full, height, where=fit > limit, color=colour, lw=0, step=None)
        axes.axhline(floor, color=GREY, lw=0.6)
        axes.axhline(floor + traces.review[s] / full, color=GREY, lw=0.7, ls=(0, (4, 2)))
        axes.axhline(floor + traces.reject[s] / full, color=INK, lw=0.8)
        axes.plot(time, height, color=_TRACE, lw=0.9)
        _beside(axes, traces, s, floor, full)
    axes.set_yticks([len(known) - 0.55 - row for row in range(len(known))], [_spoken(SEGMENTS[s]) for s in known])
    axes.tick_params(axis="y", length=0, pad=22)
    axes.set_ylim(0, len(known))


def _beside(axes: "Axes", traces: Traces, s: int, floor: float, full: float) -> None:
    """The limits in numbers on the left, the largest value on the right, in bold with a sign where it is beyond one."""
    place: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "va": "center", "fontsize": 5.8}
    for limit in (traces.review[s], traces.reject[s]):
        axes.text(-0.008, floor + limit / full, f"{limit:g}", ha="right", color=GREY, **place)
    usual, most = float(np.nanmedian(traces.fit[:, s])), float(np.nanmax(traces.fit[:, s]))
    beyond = usual > traces.review[s]
    words = f"median {number(usual)}"
    axes.text(1.012, floor + 0.62, words, ha="left", fontweight="bold" if beyond else "normal", **place)
    cut = "\N{BLACK UP-POINTING TRIANGLE}" if most > _FULL * traces.reject[s] else ""
    axes.text(1.012, floor + 0.3, f"most {number(most)} {cut}".strip(), ha="left", **place)


def _largest(values: FloatArray, every: int) -> FloatArray:
    """The largest of every run of so many values: a thinned line must not lose a spike."""
    padded = np.concatenate([values, np.full(-values.size % every, np.nan)]).reshape(-1, every)
    return np.asarray(np.fmax.reduce(padded, axis=1))


def _legend(figure: "FigureBase", traces: Traces, shown: list[int], moments: list[_Moments], known: list[int]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    there = set(np.unique(traces.state[:, shown]).tolist()) if shown else set()
    handles: list[Any] = [Patch(facecolor=c, label=words) for value, (words, c, _) in _FILLED.items() if value in there]
    for rejects, words in ((True, "found: rejects"), (False, "found: to be reviewed")):
        if any(m.rejects == rejects for m in moments):
            face = INK if rejects else "#ffffff"
            handles.append(Line2D([], [], marker="v", color=INK, mfc=face, ms=4.5, ls="none", label=words))
    if known:
        handles.append(Line2D([], [], color=GREY, lw=0.8, ls=(0, (4, 2)), label="limit of review, for the median"))
        handles.append(Line2D([], [], color=INK, lw=0.9, label="limit of rejection, for the median"))
    if handles:
        figure.legend(handles=handles, loc="lower center", ncols=3, fontsize=6.8, borderaxespad=0.1, columnspacing=1.4,
                      handlelength=1.8)  # fmt: skip


def _spoken(segment: str) -> str:
    stem, _, side = segment.partition("_")
    return f"{stem}, {'right' if side == 'r' else 'left'}" if side else stem


def _note(traces: Traces, troubled: int, moments: int, known: list[int], standing: bool) -> str:
    found = f"when something was found{_of(_MOST_MOMENTS, moments)}, and " if moments else ""
    words = f"Above: {found}markers with missing or filled samples{_of(_MOST_MARKERS, troubled)}."
    if known:
        source = "the recording as read" if traces.unchanged else "the recording after repair, filling and filter"
        return f"{words} Below: from {source}, how far each segment's markers are from the shape of the standing trial."
    if standing:
        return words
    return f"{words} There is no standing trial to compare the segments' shape with."


def _of(most: int, count: int) -> str:
    return f" (the worst {most} of {count})" if count > most else ""


def _said(label: str, traces: Traces, troubled: list[str], known: list[int], trial: xr.Dataset) -> str:
    share, filled = (100 * float(part.mean()) for part in (traces.state == MISSING, traces.state > SEEN))
    words = f"Trial {label}: {number(share)} % of the samples are missing, {number(filled)} % were filled"
    if troubled:
        words += f"; most in {joined(troubled[:3])}"
    if known:
        usual, most = (f(traces.fit[:, known], axis=0) for f in (np.nanmedian, np.nanmax))
        beyond = [
            f"{_spoken(SEGMENTS[s])} ({number(m)} mm)"
            for s, m in zip(known, usual, strict=True)
            if m > traces.review[s]
        ]
        if beyond:
            words += f"; the median distance from the standing shape is beyond its limit in {joined(beyond)}"
        words += f"; the largest distance is {number(most.max())} mm, in {_spoken(SEGMENTS[known[int(most.argmax())]])}"
    return f"{words}. {history_words(trial)}".strip()


def history_words(trial: xr.Dataset) -> str:
    """Which stages made the trial what it is."""
    names = [next(iter(step)) for step in history(trial)]
    return f"Stages: {', '.join(names)}." if names else ""
