"""One page for the engineer: can these files and markers be trusted? Findings, gaps over time, clusters, worst first."""

from importlib import resources
from pathlib import Path
from typing import NamedTuple

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from condyle import __version__
from condyle.files.atomic import write_text
from condyle.files.tables import write_csv
from condyle.findings import ACCEPTED, gravity
from condyle.report.drawing import inline_svg
from condyle.report.picture_quality import quality_picture
from condyle.report.quality import quality_of_table
from condyle.result_tables import quality_table
from condyle.running import Processed
from condyle.session_result import SessionResult


def write_quality(result: SessionResult, out: Path) -> list[Path]:
    """Write ``quality.csv``, ``quality.html`` and one ``quality_TRIAL.svg`` per trial that was read into ``out``."""
    folder = Path(out)
    folder.mkdir(parents=True, exist_ok=True)
    table = quality_table(result.participant, result.session, result.findings)
    written = [folder / "quality.csv"]
    write_csv(written[0], table)
    pictures = []
    places = {}  # of each trial that is drawn: where on the page
    for k, (name, done) in enumerate(_worst_first(result)):
        picture = quality_picture(done.trial, f"quality{k}", findings=done.findings)
        if picture is None:
            continue
        places[name] = picture.name
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
        quality=quality_of_table(table, list(result.rejected), not result.movements, "in the table below"),
        trials=[_of_trial(name, done, places.get(name, "")) for name, done in _worst_first(result)],
        pictures=pictures,
        css=Markup(style),
        version=__version__,
    )
    written.append(folder / "quality.html")
    write_text(written[-1], page + "\n")
    return written


class _Trial(NamedTuple):
    """A trial in one row: its verdict, how many findings of which kind, and the place of its picture on the page."""

    name: str
    verdict: str
    counts: tuple[int, int, int, int]  # rejects, overridden rejects, reviews, passed
    place: str


def _of_trial(name: str, done: Processed, place: str) -> _Trial:
    over = sum(f.advice.startswith(ACCEPTED) for f in done.findings)
    rejects, reviews, passed = (sum(f.verdict == v for f in done.findings) for v in ("reject", "review", "pass"))
    verdict = "rejected" if done.rejected else "in part rejected" if rejects else "reject, overridden" if over else ""
    return _Trial(
        name, verdict or ("to be reviewed" if reviews else "passed"), (rejects, over, reviews - over, passed), place
    )


def _worst_first(result: SessionResult) -> list[tuple[str, Processed]]:
    """The trials, by their gravest finding and then by how many call for a look."""
    return sorted(result.trials.items(), key=lambda item: _gravest(item[1]), reverse=True)


def _gravest(done: Processed) -> tuple[float, int]:
    ranks = [gravity(f.verdict, f.advice, f.value, f.limit)[0] for f in done.findings]
    return max(ranks, default=0.0), sum(rank > 0 for rank in ranks)
