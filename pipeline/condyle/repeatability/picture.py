"""The picture of the comparison: which landmark was placed how far from where the first session had it?"""

from pathlib import Path

import pandas as pd

from condyle.files.atomic import atomic_path

_SHOWN = 25


def draw(landmarks: pd.DataFrame, path: Path) -> None:
    """A bar per landmark, farthest first, its limit as a mark; the size of each direction as text."""
    from matplotlib.figure import Figure

    table = landmarks.head(_SHOWN)[::-1]
    figure = Figure(figsize=(8.5, 1.6 + 0.28 * len(table)), layout="constrained")
    axes = figure.add_subplot()
    rows = range(len(table))
    records = table.to_dict("records")
    labels = [f"{r['participant']} {r['second']}: {str(r['landmark']).replace('_', ' ')}" for r in records]
    beyond = table["verdict"].to_numpy() == "review"
    colours = ["#1f5a7a" if b else "#b9c7cf" for b in beyond]
    axes.barh(rows, table["distance_mm"], color=colours, height=0.62)
    axes.plot(
        table["limit_mm"],
        list(rows),
        linestyle="none",
        marker="|",
        markersize=12,
        color="#222222",
        label="limit by palpation",
    )
    for k, r in enumerate(records):
        words = f"{r['anterior_mm']:+.0f} forward, {r['superior_mm']:+.0f} up, {r['right_mm']:+.0f} right"
        axes.annotate(
            words,
            (max(float(r["distance_mm"]), float(r["limit_mm"])), k),
            xytext=(6, 0),
            textcoords="offset points",
            va="center",
            fontsize=7,
        )
    axes.set_yticks(list(rows), labels, fontsize=8)
    axes.set_xlabel("distance from where the first session had it (mm)")
    axes.set_title("Landmarks placed differently, told by the others of their segment", fontsize=10, loc="left")
    axes.margins(x=0.35)
    axes.set_xlim(left=0)
    axes.legend(loc="lower right", fontsize=8, frameon=False)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    with atomic_path(path) as temporary:
        figure.savefig(temporary, format="svg", metadata={"Date": None})
