"""The stages in order: the program's table of contents."""

from typing import Any

from condyle.stages.angles import AnglesSettings, angles_trial
from condyle.stages.calibrate import CalibrateSettings, calibrate_trial
from condyle.stages.check import CheckSettings, check_trial
from condyle.stages.contributions import CONTRIBUTIONS, ContributionsSettings, contributions_trial
from condyle.stages.fill import FillSettings, fill_trial
from condyle.stages.filter import FilterSettings, filter_trial
from condyle.stages.measures import MeasuresSettings, measures_trial
from condyle.stages.pose import PoseSettings, pose_trial
from condyle.stages.quality import QualitySettings, quality_trial
from condyle.stages.repair import RepairSettings, repair_trial
from condyle.stages.repetitions import REPETITIONS, RepetitionsSettings, repetitions_trial
from condyle.stages.stage import Stage
from condyle.stages.uncertainty import UNCERTAINTY, UncertaintySettings, uncertainty_trial
from condyle.vocabulary import CALIBRATION

_POSED = frozenset({"pose", "origin", "joint_centre", "heading_deg"})

STAGES: tuple[Stage[Any], ...] = (
    Stage(
        "check", check_trial, CheckSettings, on="every",
        needs=frozenset({"point"}), gives=frozenset({"seen_as_read", "fit_as_read"}),
        words="can this trial be trusted?",
    ),
    Stage(
        "repair", repair_trial, RepairSettings, on="every",
        needs=frozenset({"point"}), gives=frozenset({"point"}),
        words="put right what may be, on request only, and record it",
    ),
    Stage(
        "fill", fill_trial, FillSettings, on="every",
        needs=frozenset({"point"}), gives=frozenset({"filled", "pelvis_rung"}),
        words="rebuild and bridge what may be repaired, mark it",
    ),
    Stage(
        "filter", filter_trial, FilterSettings, on="every",
        needs=frozenset({"point"}), gives=frozenset({"point"}),
        words="zero-lag Butterworth low-pass",
    ),
    Stage(
        "calibrate", calibrate_trial, CalibrateSettings, on="static",
        needs=frozenset({"point"}), gives=frozenset(CALIBRATION),
        words="segment frames and joint centres from the standing trial",
    ),
    Stage(
        "pose", pose_trial, PoseSettings, on="every",
        needs=frozenset({"point", "calibrated_point"}), gives=_POSED | {"bout_side"},
        words="where each segment is, the bouts, the heading",
    ),
    Stage(
        "angles", angles_trial, AnglesSettings, on="every",
        needs=_POSED, gives=frozenset({"angle"}),
        words="joint and segment angles of every frame",
    ),
    Stage(
        "repetitions", repetitions_trial, RepetitionsSettings, on="movement",
        needs=frozenset({"angle", "origin", "bout_side"}), gives=REPETITIONS,
        words="where each squat starts, has its bottom and ends",
    ),
    Stage(
        "quality", quality_trial, QualitySettings, on="movement",
        needs=_POSED | {"angle", "filled", "pelvis_rung"}, gives=frozenset(),
        words="was anything moved since standing, and what happens at depth?",
    ),
    Stage(
        "measures", measures_trial, MeasuresSettings, on="movement",
        needs=REPETITIONS | {"angle", "joint_centre", "heading_deg"}, gives=frozenset({"measure_value"}),
        words="a value per repetition, side and measure",
    ),
    Stage(
        "contributions", contributions_trial, ContributionsSettings, on="movement",
        needs=REPETITIONS | {"measure_value"}, gives=CONTRIBUTIONS,
        words="which part moved the knee, and what was seen beside it",
    ),
    Stage(
        "uncertainty", uncertainty_trial, UncertaintySettings, on="movement",
        needs=CONTRIBUTIONS | {"static_point", "fit_rms"}, gives=UNCERTAINTY,
        words="95 % limits by Monte Carlo, and the cause the draws can name",
    ),
)  # fmt: skip
