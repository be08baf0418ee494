"""What a study is asked: pairs, cut-offs, camera, draws. The defaults stand in configs/agreement.yaml with sources."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, field_validator

from condyle.errors import ConfigurationErrors, UsageError
from condyle.files.checked import Checked, validate
from condyle.files.shipped import configs_folder
from condyle.files.yaml_text import read_yaml_text

LARGEST = 10_000.0  # of any measure, in its own unit (ours)
Travel = Annotated[float, Field(ge=0, le=2000)]
Direction = Literal["together", "opposite", "unknown"]


class PairSetting(Checked):
    """A planar measure and the 3D reference it is laid against."""

    planar: str = Field(description="planar measure, as in the planar table or as computed from the trials")
    reference: str = Field(description="3D measure, as in measures.csv")
    same_quantity: bool = Field(
        False, description="whether both measure one quantity, so that limits of agreement make sense"
    )
    runs: Direction = Field(
        "together", description="whether both should grow together, opposite to one another, or not known"
    )


class CutoffSetting(Checked):
    """Beyond which value of a measure a repetition counts as marked."""

    measure: str = Field(description="measure, planar or 3D")
    value: float = Field(
        ge=-LARGEST,
        le=LARGEST,
        description="cut-off in the measure's own unit",
        json_schema_extra={"unit": "of the measure"},
    )
    beyond: Literal["above", "below"] = Field("above", description="which side of the cut-off is marked")
    source: str = Field("stated by the user", description="where the cut-off comes from")


class CameraSetting(Checked):
    """The camera of the planar screen, as it stands by the protocol."""

    distance_mm: float = Field(
        3000.0, gt=500, le=1e8, description="horizontal distance from the stance ankle to the lens"
    )
    height_mm: float = Field(700.0, ge=0, le=10_000, description="height of the lens above the floor")
    yaw_deg: float = Field(
        0.0, gt=-90, lt=90, description="camera carried round to the participant's left, turned to them"
    )
    sideways_mm: float = Field(
        0.0, ge=-10_000, le=10_000, description="camera moved to the participant's right, not turned"
    )
    focal_length_px: float = Field(
        1500.0, gt=0, le=1e8, description="focal length in pixels", json_schema_extra={"unit": "px"}
    )
    pixel_noise_px: float = Field(
        0.0, ge=0, le=1000, description="SD of a digitised point, each way", json_schema_extra={"unit": "px"}
    )
    frame_rate_hz: float | None = Field(
        None, gt=0, le=10_000, description="frames per second; none: read exactly at the bottom"
    )


class SweepSetting(Checked):
    """Where else the camera is put to see what its place does."""

    yaw_deg: tuple[Annotated[float, Field(gt=-90, lt=90)], ...] = Field(
        (-20, -15, -10, -5, 0, 5, 10, 15, 20), description="turns round the participant, towards the stance side"
    )
    sideways_mm: tuple[Annotated[float, Field(ge=-10_000, le=10_000)], ...] = Field(
        (-500, -250, 0, 250, 500), description="moves towards the stance side"
    )
    height_mm: tuple[Annotated[float, Field(ge=0, le=10_000)], ...] = Field(
        (300, 700, 1000, 1350), description="heights of the lens"
    )
    distance_mm: tuple[Annotated[float, Field(gt=500, le=1e8)], ...] = Field(
        (2000, 3000, 4000, 6000), description="distances"
    )


class ReadingSetting(Checked):
    """The limits over which the planar reading's rule is swept in the misreading table."""

    travel_mm: tuple[Travel, ...] = Field((20, 30, 40, 60), description="medial knee travel from which the rule calls")
    path_angle_deg: tuple[Annotated[float, Field(ge=0, le=90)], ...] = Field(
        (10, 20, 40), description="path angle from which the rule calls"
    )
    fppa_deg: tuple[Annotated[float, Field(ge=0, le=180)], ...] = Field(
        (5, 10, 15, 20), description="projection angle from which the rule calls"
    )
    travel_bands_mm: tuple[Travel, ...] = Field((0, 20, 40, 60), description="lower edges of the bands of knee travel")


class AgreeSettings(Checked):
    """Everything that a study's numbers depend on beside its tables."""

    pairs: tuple[PairSetting, ...] = Field((), description="which planar measure against which reference")
    cutoffs: tuple[CutoffSetting, ...] = Field((), description="cut-offs on 3D references: who is marked")
    planar_cutoffs: tuple[CutoffSetting, ...] = Field((), description="cut-offs a planar screen uses: who is called")
    camera: CameraSetting = Field(CameraSetting(), description="the virtual camera")
    camera_sweep: SweepSetting = Field(SweepSetting(), description="where else the camera is put")
    reading: ReadingSetting = Field(ReadingSetting(), description="limits of the planar reading")
    half_widths: tuple[Annotated[float, Field(gt=0, le=LARGEST)], ...] = Field(
        (1.0, 2.0, 3.0),
        description="wanted half widths of the limits' intervals",
        json_schema_extra={"unit": "of the pair"},
    )
    draws: int = Field(2000, ge=200, le=100_000, description="bootstrap samples", json_schema_extra={"unit": "1"})
    seed: int = Field(
        1, ge=0, le=4_294_967_295, description="start of the random numbers", json_schema_extra={"unit": "1"}
    )
    level_percent: float = Field(95.0, gt=50, lt=100, description="coverage of every interval")

    @field_validator("pairs")
    @classmethod
    def _each_once(cls, pairs: tuple[PairSetting, ...]) -> tuple[PairSetting, ...]:
        seen: set[tuple[str, str]] = set()
        for pair in pairs:
            if (pair.planar, pair.reference) in seen:
                raise ValueError(f"the pair {pair.planar}:{pair.reference} stands twice; keep one")
            seen.add((pair.planar, pair.reference))
        return pairs

    @property
    def level(self) -> float:
        """Coverage as a share."""
        return self.level_percent / 100


def load_settings(path: Path | None = None) -> AgreeSettings:
    """The settings in a YAML file; without one the shipped defaults."""
    file = path or configs_folder() / "agreement.yaml"
    settings, sentences = validate(AgreeSettings, read_yaml_text(file))
    if settings is None:
        raise ConfigurationErrors(sentences)
    return settings


def with_numbers(path: Path | None, seed: int | None = None, draws: int | None = None) -> AgreeSettings:
    """The settings in a file, with seed and number of draws from the command line where they stand there."""
    chosen = load_settings(path)
    update = {name: value for name, value in (("seed", seed), ("draws", draws)) if value is not None}
    if draws is not None and not 200 <= draws <= 100_000:
        raise UsageError(f"--draws {draws}: expected a whole number from 200 to 100000.")
    if seed is not None and not 0 <= seed <= 4_294_967_295:
        raise UsageError(f"--seed {seed}: expected a whole number from 0 to 4294967295.")
    return chosen.model_copy(update=update)
