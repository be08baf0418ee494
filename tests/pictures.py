"""The picture in the README: ``python -m tests.pictures`` draws docs/pictures/matched_pair.svg from two synthetic squats.

Two people whose kneecap goes the same way to a frontal view, and whose causes differ: the courses of FPPA lie on one
another, the contributions do not. No errors are added to the markers, so that the picture shows the method and not chance.
"""

import tempfile
from pathlib import Path

import pandas as pd
from matplotlib.figure import Figure

from condyle.sample import Options, check_person, matched_pair, simulate_session, write_session
from condyle.sample.timing import Timing
from condyle.session import compute, plan

PICTURE = Path(__file__).parents[1] / "docs" / "pictures" / "matched_pair.svg"
MEMBERS = {"turns the pelvis": 1, "moves at the hip": 0}  # place in the matched pair
STYLE = {"turns the pelvis": ("#0b5c8a", "-"), "moves at the hip": ("#c25e00", (0, (4, 2)))}
PARTS = {  # shown as one bar each; what the squat itself does and the remainder are bars too: nothing is hidden
    "pelvis": ("pelvis_rotation", "pelvis_obliquity"),
    "hip": ("hip_adduction", "hip_internal_rotation"),
    "knee": ("knee_adduction", "knee_internal_rotation"),
    "the squat itself": ("sagittal",),
    "remainder": ("remainder",),
}


def tables(member: int, folder: Path) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Curves and contributions of one squat of a member of the pair."""
    from condyle.result_tables import contributions_table, curves_table

    movement = matched_pair()[member]
    options = Options.ideal(timing=Timing(repetitions=1, tempo_spread=0.0))
    session = simulate_session(check_person("MR02"), {"squat": [("right", movement)]}, options)
    write_session(folder, session, marker_set="clusters_full_body", pipeline="single_leg_squat")
    trials = [done.trial for done in compute(plan(folder)).movements]
    return curves_table(trials), contributions_table(trials)


def parts_of(contributions: pd.DataFrame) -> dict[str, float]:
    """The contributions to the FPPA's change at the bottom, as the bars show them."""
    fppa = contributions[contributions["measure"] == "fppa"].set_index("source")["value"]
    return {name: float(fppa[list(sources)].sum()) for name, sources in PARTS.items()}


def draw(found: dict[str, tuple[pd.DataFrame, pd.DataFrame]]) -> Figure:
    """FPPA over the squat on the left, what made its change on the right."""
    figure = Figure(figsize=(9.2, 3.6), layout="constrained")
    courses, bars = figure.subplots(1, 2, width_ratios=(1.0, 1.25))
    for k, (words, (curves, contributions)) in enumerate(found.items()):
        colour, line = STYLE[words]
        courses.plot(curves["percent"], curves["fppa"], color=colour, linestyle=line, linewidth=2.2, label=words)
        parts = parts_of(contributions)
        places = [i + (0.2 if k else -0.2) for i in range(len(parts))]
        hatch = "//" if k else ""
        drawn = bars.barh(places, list(parts.values()), 0.36, color=colour, hatch=hatch, edgecolor="white", label=words)
        bars.bar_label(drawn, [f"{round(v, 1) + 0.0:.1f}" for v in parts.values()], padding=3, fontsize=8)
    courses.axvline(50, color="#888888", linewidth=0.8)
    courses.set(xlabel="percent of the squat (50 is the bottom)", ylabel="FPPA (degrees, positive: knee medial)")
    courses.set_title("What a 2D screen reads", loc="left", fontsize=10)
    courses.margins(y=0.22)
    courses.legend(fontsize=8, frameon=False, loc="upper left")
    bars.set_yticks(range(len(PARTS)), list(PARTS))
    bars.invert_yaxis()
    bars.axvline(0, color="#444444", linewidth=0.8)
    bars.margins(x=0.16)
    bars.set_xlabel("contribution to the change of FPPA at the bottom (degrees)")
    bars.set_title("Which part did it", loc="left", fontsize=10)
    for axes in (courses, bars):
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
    return figure


def main() -> None:
    """Simulate, process, draw."""
    with tempfile.TemporaryDirectory() as place:
        found = {words: tables(member, Path(place) / str(member)) for words, member in MEMBERS.items()}
    import matplotlib

    PICTURE.parent.mkdir(parents=True, exist_ok=True)
    with matplotlib.rc_context({"svg.hashsalt": "condyle", "svg.fonttype": "path", "font.family": "DejaVu Sans"}):
        figure = draw(found)
        figure.savefig(PICTURE, metadata={"Date": None})
    for words, (_, contributions) in found.items():
        print(words, {k: round(v, 1) for k, v in parts_of(contributions).items()})


if __name__ == "__main__":
    main()
