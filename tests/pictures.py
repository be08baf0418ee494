"""Pictures of README and docs: ``python -m tests.pictures`` draws them from synthetic squats, processed by the shipped stages.

docs/pictures/sample_session.svg: the shipped sample session, with its errors and 95 % limits. docs/pictures/matched_pair.svg:
two people whose kneecap goes the same way to a frontal view, and whose causes differ; no errors are added to the markers, so
that it shows the method and not chance.
"""

import tempfile
from pathlib import Path

import pandas as pd
from matplotlib.figure import Figure

from condyle.sample import Options, check_person, matched_pair, simulate_session, write_session
from condyle.sample.timing import Timing
from condyle.session import compute, plan

ROOT = Path(__file__).parents[1]
PICTURES = ROOT / "docs" / "pictures"
SAMPLE = ROOT / "sample_trials" / "MR01" / "2026-11-03"
STAGES = (
    "stages: [read, check, fill, filter, calibrate, pose, angles, repetitions, measures, contributions,"
    " {uncertainty: {draws: 200, seed: 1}}]\n"
)
SVG = {"svg.hashsalt": "condyle", "svg.fonttype": "path", "font.family": "DejaVu Sans"}
LEGS = {"right": ("#0b5c8a", "-", "", -0.2), "left": ("#c25e00", (0, (4, 2)), "//", 0.2)}
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
    return {name: round(float(fppa[list(sources)].sum()), 3) + 0.0 for name, sources in PARTS.items()}


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


def sample_tables(folder: Path) -> dict[str, pd.DataFrame]:
    """Tables of the shipped sample session, with intervals."""
    from condyle.result_tables import tables_of

    (folder / "pipeline.yaml").write_text(STAGES)
    text = (SAMPLE / "session.yaml").read_text().replace("../../../configs/single_leg_squat.yaml", "pipeline.yaml")
    text = text.replace("../../../configs/markers/clusters_full_body.yaml", "clusters_full_body")
    for name in ("static", "squat_right", "squat_left"):
        text = text.replace(f"{name}.c3d", f"{SAMPLE}/{name}.c3d")
    (folder / "session.yaml").write_text(text)
    return tables_of(compute(plan(folder)))


def draw_sample(found: dict[str, pd.DataFrame]) -> Figure:
    """FPPA of both legs on the left; on the right what made its change, with 95 % limits."""
    figure = Figure(figsize=(9.6, 4.0), layout="constrained")
    courses, bars = figure.subplots(1, 2, width_ratios=(1.0, 1.35))
    fppa = found["contributions"].query("measure == 'fppa'")
    order = [s for s in fppa["source"].unique() if s != "remainder"] + ["remainder"]
    means = fppa.groupby(["side", "source"])[["value", "lower", "upper"]].mean()
    for side, (colour, line, hatch, shift) in LEGS.items():
        for k, (_, squat) in enumerate(found["curves"].query("side == @side").groupby("repetition")):
            words = f"{side} leg" if k == 0 else None
            courses.plot(squat["percent"], squat["fppa"], color=colour, linestyle=line, linewidth=1.2, label=words)
        part = means.loc[side].reindex(order)
        places = [i + shift for i in range(len(order))]
        bars.barh(places, part["value"], 0.36, color=colour, hatch=hatch, edgecolor="white", label=f"{side} leg")
        reach = [part["value"] - part["lower"], part["upper"] - part["value"]]
        bars.errorbar(part["value"], places, xerr=reach, fmt="none", ecolor="black", elinewidth=0.9, capsize=2)
    courses.set(xlabel="percent of the squat (50 is the bottom)", ylabel="FPPA (degrees, positive: knee medial)")
    courses.set_title("What a 2D screen reads", loc="left", fontsize=10)
    courses.margins(y=0.2)
    courses.legend(fontsize=8, frameon=False, loc="upper left")
    names = {"sagittal": "the squat itself"}
    bars.set_yticks(range(len(order)), [names.get(s, s.replace("_", " ")) for s in order])
    bars.invert_yaxis()
    bars.axvline(0, color="#444444", linewidth=0.8)
    bars.set_xlabel("degrees of FPPA, start to bottom (lines: 95 % limits)")
    bars.set_title("Which part did it", loc="left", fontsize=10)
    for axes in (courses, bars):
        for edge in ("top", "right"):
            axes.spines[edge].set_visible(False)
    return figure


def main() -> None:
    """Simulate or read, process, draw."""
    import matplotlib as mpl

    with tempfile.TemporaryDirectory() as place, mpl.rc_context(SVG):
        PICTURES.mkdir(parents=True, exist_ok=True)
        found = {words: tables(member, Path(place) / str(member)) for words, member in MEMBERS.items()}
        draw(found).savefig(PICTURES / "matched_pair.svg", metadata={"Date": None})
        (Path(place) / "sample").mkdir()
        sample = sample_tables(Path(place) / "sample")
        draw_sample(sample).savefig(PICTURES / "sample_session.svg", metadata={"Date": None})
    for words, (_, contributions) in found.items():
        print(words, {k: round(v, 1) for k, v in parts_of(contributions).items()})
    print(sample["repetitions"][["trial", "repetition", "cause", "confidence"]].to_string())


if __name__ == "__main__":
    main()
