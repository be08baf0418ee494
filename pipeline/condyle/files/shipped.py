"""Where the shipped marker sets, pipelines and limits stand, found through the installed package."""

from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Literal

PIPELINES = ("single_leg_squat", "walking")  # other files beside them hold limits


def configs_folder() -> Path:
    """The folder of everything shipped as configuration."""
    return Path(str(resources.files("condyle"))) / "configs"


@lru_cache(maxsize=2)
def shipped(kind: Literal["marker_set", "pipeline"]) -> dict[str, Path]:
    """Name and path of every shipped marker set or pipeline."""
    if kind == "marker_set":
        return {path.stem: path for path in sorted((configs_folder() / "markers").glob("*.yaml"))}
    return {name: configs_folder() / f"{name}.yaml" for name in PIPELINES}
