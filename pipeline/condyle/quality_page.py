"""One page for the engineer: can these files and markers be trusted? Findings, gaps over time, clusters, worst first."""

from importlib import resources
from pathlib import Path

import xarray as xr
from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from condyle import __version__
from condyle.files.atomic import write_text
from condyle.files.tables import write_csv
from condyle.report.drawing import inline_svg
from condyle.report.picture_quality import quality_picture
from condyle.report.quality import quality_of_table
from condyle.result_tables import quality_table
from condyle.session_result import SessionResult


def write_quality(result: SessionResult, out: Path) -> list[Path]:
    """Write ``quality.csv``, ``quality.html`` and one ``quality_TRIAL.svg`` per trial that was read into ``out``."""
    folder = Path(out)
    folder.mkdir(parents=True, exist_ok=True)
    table = quality_table(result.participant, result.session, result.findings)
    written = [folder / "quality.csv"]
    write_csv(written[0], table)
    pictures = []
    for k, (name, done) in enumerate(_worst_first(result)):
        picture = quality_picture(done, f"quality{k}")
        if picture is None:
            continue
        text = inline_svg(picture)
        pictures.append((picture, Markup(text)))
        written.append(folder / f"quality_{name}.svg")
        write_text(written[-1], f'<?xml version="1.0" encoding="utf-8"?>\n{text}')
    template = (resources.files("condyle.report") / "quality.html").read_text(encoding="utf-8")
    style = (resources.files("condyle.report") / "report.css").read_text(encoding="utf-8")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    page = environment.from_string(template).render(
        participant=result.participant,
        session=result.session,
        quality=quality_of_table(table, list(result.rejected), not result.movements),
        pictures=pictures,
        css=Markup(style),
        version=__version__,
    )
    written.append(folder / "quality.html")
    write_text(written[-1], page + "\n")
    return written


def _worst_first(result: SessionResult) -> list[tuple[str, xr.Dataset]]:
    """Trials that hold markers: the rejected first, then by how much calls for a review, in the order of the session."""
    weights = {"reject": 1000, "review": 1, "pass": 0}
    read = [(name, done) for name, done in result.trials.items() if "point" in done.trial]
    read.sort(key=lambda item: -sum(weights[f.verdict] for f in item[1].findings))
    return [(name, done.trial) for name, done in read]
