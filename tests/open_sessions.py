"""Session folders written around the public C3D files, as an engineer would write them."""

import shutil
from pathlib import Path

from tests.conftest import open_c3d

SIDES = (("r", "R"), ("l", "L"))

CLUSTERS = (
    "landmarks:\n  sacrum: SACRUM\n"
    + "".join(
        f"  asis_{s}: {S}_ASIS\n  iliac_crest_{s}: {S}_ILIAC\n  greater_trochanter_{s}: {S}_TROCH\n"
        f"  lateral_epicondyle_{s}: {S}_KNEE_LAT\n  medial_epicondyle_{s}: {S}_KNEE_MED\n"
        f"  lateral_malleolus_{s}: {S}_ANKLE_LAT\n  medial_malleolus_{s}: {S}_ANKLE_MED\n"
        f"  calcaneus_{s}: {S}_HEEL\n  metatarsal_1_{s}: {S}_MT_1\n  metatarsal_5_{s}: {S}_MT_5\n"
        for s, S in SIDES
    )
    + "tracking:\n  pelvis: [R_ASIS, L_ASIS, SACRUM]\n"
    + "".join(
        f"  thigh_{s}: [{', '.join(f'{S}_THIGH_{k}' for k in range(1, 5))}]\n"
        f"  shank_{s}: [{', '.join(f'{S}_SHANK_{k}' for k in range(1, 5))}]\n"
        f"  foot_{s}: [{S}_HEEL, {S}_MT_1, {S}_MT_5]\n"
        for s, S in SIDES
    )
    + "static_only: ["
    + ", ".join(
        f"{S}_{n}" for _, S in SIDES for n in ("ILIAC", "TROCH", "KNEE_LAT", "KNEE_MED", "ANKLE_LAT", "ANKLE_MED")
    )
    + "]\n"
)

SKIN = (
    "landmarks:\n  sacrum: sacrum\n"
    + "".join(
        f"  asis_{s}: {s}_asis\n  lateral_epicondyle_{s}: {s}_knjntln\n  tibial_tuberosity_{s}: {s}_tubtib\n"
        f"  lateral_malleolus_{s}: {s}_ankle\n  calcaneus_{s}: {s}_heel\n  metatarsal_2_{s}: {s}_toe\n"
        f"  acromion_{s}: {s}_shoulder\n"
        for s, _ in SIDES
    )
    + "tracking:\n  pelvis: [r_asis, l_asis, sacrum]\n"
    + "".join(
        f"  thigh_{s}: [hip_{s}, {s}_suppat, {s}_knjntln]\n  shank_{s}: [knee_{s}, {s}_tubtib, {s}_ankle]\n"
        f"  foot_{s}: [ankle_{s}, {s}_heel, {s}_toe]\n"
        for s, _ in SIDES
    )
)

WALKING = """\
lab: {vertical: +Z, anterior: pelvis_at_start}
stages:
  - read
  - check
  - fill: {longest_s: 0.2}
  - filter: {cutoff_hz: 6}
  - calibrate: {hip_centre: harrington_2007}
  - pose
  - angles
"""


def write_open_session(
    folder: Path, kind: str, static: str, trials: list[str], markers: str, pipeline: str = WALKING, more: str = ""
) -> Path:
    """A session folder with copies of the named public files; the trials are walks, so task other."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in [static, *trials]:
        shutil.copy(open_c3d(f"{kind}/{name}.c3d"), folder / f"{name}.c3d")
    (folder / "markers.yaml").write_text(markers)
    (folder / "pipeline.yaml").write_text(pipeline)
    lines = [f"  - {{file: {name}.c3d, task: other}}" for name in trials]
    (folder / "session.yaml").write_text(
        "participant: {id: P01}\nsession: 2026-01-15\nmarker_set: markers.yaml\npipeline: pipeline.yaml\n"
        f"static: {static}.c3d\ntrials:\n" + "\n".join(lines) + "\n" + more
    )
    return folder
