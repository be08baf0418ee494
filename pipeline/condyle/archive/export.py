"""Results in open formats: a Motion-BIDS data set, and C3D files with centres and angles."""

from collections.abc import Iterator
from pathlib import Path

from condyle.archive.export_c3d import write_c3d
from condyle.archive.exported import Exported, exported_trials, results_folders
from condyle.archive.motion_bids import write_motion_bids
from condyle.errors import UsageError
from condyle.files.atomic import writable_or_raise

FORMATS = {"motion-bids": "motion_bids", "c3d": "c3d"}


def export(results: list[Path], out: Path, formats: tuple[str, ...] = tuple(FORMATS), overwrite: bool = False) -> int:
    """Write the trials below ``results`` into folders below ``out``, one for each format; returns how many trials."""
    folders = results_folders(results)
    targets = {name: out / FORMATS[name] for name in formats}
    for target in targets.values():
        if target.is_dir() and any(target.iterdir()) and not overwrite:
            raise UsageError(f"{target} is not empty; choose another --out, or replace what is there with --overwrite.")
        writable_or_raise(target)
    trials = exported_trials(folders)
    if "c3d" in targets:
        trials = _also_as_c3d(trials, targets["c3d"])
    if "motion-bids" in targets:
        return write_motion_bids(targets["motion-bids"], trials)
    return sum(1 for _ in trials)


def _also_as_c3d(trials: Iterator[Exported], target: Path) -> Iterator[Exported]:
    for trial in trials:
        participant, session, name = trial.identity
        folder = target / participant / session
        folder.mkdir(parents=True, exist_ok=True)
        write_c3d(folder / f"{name}.c3d", trial)
        yield trial
