"""Which part moved the knee: bars with their intervals at the bottom, and how the parts build up through the squat."""

from typing import TYPE_CHECKING, Any

import numpy as np

from condyle.report.absent import not_drawn
from condyle.report.answers import account_words
from condyle.report.drawing import GREY, INK, SOURCE_STYLE, Picture, margins
from condyle.report.legs import Leg
from condyle.report.picture_curves import repetition_curves
from condyle.report.words import interval, joined, number, spoken

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import FigureBase

_BAR = 0.24  # inches for one bar


def bar_picture(legs: list[Leg], name: str, question: str, accounts: list[str] | None = None) -> Picture | None:
    """One panel per leg: a bar per part, with its 95 % interval where it was computed.

    ``accounts`` are by default each leg's own, the one that its cause explains; several accounts become rows of panels. A
    leg of which nothing is known has no panels: the note says why.
    """
    drawn = [any(_known(leg, a) for a in ([leg.explains] if accounts is None else accounts)) for leg in legs]
    shown = [leg for leg, there in zip(legs, drawn, strict=True) if there]
    rows = [[leg.explains for leg in shown]] if accounts is None else [[a] * len(shown) for a in accounts]
    rows = [row for row in rows if any(_known(leg, a) for leg, a in zip(shown, row, strict=True))]
    if not rows:
        return None
    counts = [max(len(leg.sources(a)) for leg, a in zip(shown, row, strict=True)) for row in rows]
    height = sum(_BAR * n + 0.85 for n in counts)

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        axes = figure.subplots(
            len(rows), len(shown), squeeze=False, sharex="row", sharey="row", gridspec_kw={"height_ratios": counts}
        )
        margins(figure, (width, tall), left=1.75, right=0.3, top=0.3, bottom=0.45, across=0.3, down=0.85,
                grid=(len(rows), len(shown)))  # fmt: skip
        for line, row in zip(axes, rows, strict=True):
            there = [_known(leg, a) for leg, a in zip(shown, row, strict=True)]
            for panel, leg, account, known in zip(line, shown, row, there, strict=True):
                if known:
                    _bars(panel, leg, account)
                panel.set_visible(known)
            line[there.index(True)].tick_params(labelleft=True)  # the names of the parts, where the first leg has none

    cells = [(leg, a) for row in rows for leg, a in zip(shown, row, strict=True)]
    said = [_said(leg, a) for leg, a in cells if _known(leg, a)]
    with_limits = any(np.isfinite(e.lower) for leg, a in cells for e in leg.sources(a).values())
    note = [
        "Means over the counted repetitions. To the right: the knee is moved inward (medially).",
        "Whiskers: 95 % limits from simulated errors of markers, hip centre, heading and soft tissue."
        if with_limits
        else "No intervals: the stage `uncertainty` was not run.",
        *(f"{leg.side.capitalize()} leg: {account_words(a)} not known." for leg, a in cells if not _known(leg, a)),
        not_drawn(legs, drawn, "its contributions were"),
    ]
    return Picture(name, question, " ".join(said), height, draw, " ".join(words for words in note if words))


def course_picture(legs: list[Leg], name: str) -> Picture | None:
    """How the parts build up from start to end: stacked areas, the whole change as a line."""
    drawn = [bool(_courses(leg)) for leg in legs]
    shown = [leg for leg, there in zip(legs, drawn, strict=True) if there]
    if not shown:
        return None
    height = 3.15
    note = (
        "Means over the counted repetitions; parts that move the knee inward are stacked upwards from zero, the others "
        f"downwards. Dark line: the whole change. {not_drawn(legs, drawn, 'the course of its contributions was')}"
    )

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        axes = figure.subplots(1, len(shown), squeeze=False, sharey=True)[0]
        margins(figure, (width, tall), left=0.55, top=0.3, bottom=0.95, across=0.3, grid=(1, len(shown)))
        for k, (panel, leg) in enumerate(zip(axes, shown, strict=True)):
            _stack(panel, leg)
            panel.set_gid(f"panel{k}")
        unit = shown[0].unit(shown[0].explains)
        axes[0].set_ylabel(f"change from the start ({unit}), inward +")
        _legend(figure, [s for s in SOURCE_STYLE if any(s in _courses(leg) for leg in shown)])

    return Picture(
        name,
        "When does each part act?",
        "Stacked contributions over the repetition. "
        + " ".join(_said(leg, leg.explains) for leg in shown if _known(leg, leg.explains)),
        height,
        draw,
        note.strip(),
        tuple((f"{name}-panel{k}", 100.0) for k in range(len(shown))),
    )


def _known(leg: Leg, account: str) -> bool:
    return any(e.known for e in leg.sources(account).values())


def _bars(axes: "Axes", leg: Leg, account: str) -> None:
    parts = leg.sources(account)
    names = [s for s in SOURCE_STYLE if s in parts]
    for place, source in enumerate(names):
        e, look = parts[source], SOURCE_STYLE[source]
        if not e.known:
            continue
        axes.barh(place, e.value, height=0.62, edgecolor=INK, linewidth=0.6, **look)
        ends = [e.value]
        if np.isfinite(e.lower) and np.isfinite(e.upper):
            axes.plot([e.lower, e.upper], [place, place], color="white", lw=3.2, solid_capstyle="butt")
            axes.plot([e.lower, e.upper], [place, place], color=INK, lw=1.2, marker="|", ms=6)
            ends += [e.lower, e.upper]
        side = 1 if e.value >= 0 or number(e.value, 0) == "0" else -1  # a part of nothing leaves the names legible
        edge = max(ends) if side > 0 else min(ends)
        axes.annotate(number(e.value, 0), (edge, place), (4 * side, 0), textcoords="offset points", va="center",
                      ha="left" if side > 0 else "right", fontsize=7.5)  # fmt: skip
    axes.axvline(0, color=INK, lw=0.8)
    axes.set_yticks(range(len(names)), [spoken(s) for s in names])
    axes.set_ylim(len(names) - 0.5, -0.5)
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", length=0)
    axes.margins(x=0.14)
    axes.set_title(f"{leg.side.capitalize()}: {account_words(account)}", fontsize=7.6)
    axes.set_xlabel(f"contribution ({leg.unit(account)})")


def _courses(leg: Leg) -> dict[str, np.ndarray[Any, Any]]:
    """Mean course of every source of the leg's account, over the counted repetitions."""
    found = {}
    for source in SOURCE_STYLE:
        _, curves = repetition_curves(leg, f"{leg.explains}_by_{source}", valid=True)
        whole = curves[np.isfinite(curves).all(axis=1)] if curves.size else curves
        if whole.size:
            found[source] = whole.mean(axis=0)
    return found


def _stack(axes: "Axes", leg: Leg) -> None:
    courses = _courses(leg)
    percent, _ = repetition_curves(leg, f"{leg.explains}_by_{next(iter(courses))}", valid=True)
    above, below = np.zeros(percent.size), np.zeros(percent.size)
    for source, course in courses.items():
        up, down = np.maximum(course, 0), np.minimum(course, 0)
        for base, part in ((above, up), (below, down)):
            if np.abs(part).max() > 0.05:
                axes.fill_between(percent, base, base + part, edgecolor=INK, linewidth=0.4, **SOURCE_STYLE[source])
        above, below = above + up, below + down
    axes.plot(percent, above + below, color="white", lw=3.4)
    axes.plot(percent, above + below, color=INK, lw=1.8)
    axes.axhline(0, color=INK, lw=0.8)
    axes.axvline(50, color=GREY, lw=0.6, ls=(0, (1, 2)))
    axes.set_xlim(0, 100)
    axes.set_xticks([0, 50, 100], ["start", "bottom", "end"])
    axes.set_title(f"{leg.side.capitalize()}: {account_words(leg.explains)}", fontsize=7.6)


def _legend(figure: "FigureBase", sources: list[str]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list[Any] = [Patch(edgecolor=INK, linewidth=0.6, label=spoken(s), **SOURCE_STYLE[s]) for s in sources]
    handles.append(Line2D([], [], color=INK, lw=1.8, label="whole change"))
    figure.legend(handles=handles, loc="lower center", ncols=3, borderaxespad=0.2, columnspacing=1.2, handleheight=1.0)


def _said(leg: Leg, account: str) -> str:
    parts = sorted(leg.sources(account).items(), key=lambda item: -abs(item[1].value))
    unit = {"deg": "degrees"}.get(leg.unit(account), leg.unit(account))
    words = [f"{spoken(s)} {number(e.value, 0)} {interval(e.lower, e.upper, 0)}".strip() for s, e in parts if e.known][
        :4
    ]
    return f"{leg.side.capitalize()} leg, {account_words(account)}, in {unit}: {joined(words)}."
