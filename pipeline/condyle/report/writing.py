"""Writing the report's files from a folder of results."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from condyle.files.atomic import write_text
from condyle.report.content import Content, content_of
from condyle.report.results_read import Results, read_results


def write_report(
    folder: Path,
    *,
    pdf: bool = False,
    share: bool = False,
    settings: Any = None,
    kept_back: Mapping[str, Any] | None = None,
) -> list[Path]:
    """Write ``report.html`` (and with ``pdf`` also ``report_a4.pdf`` and ``report_letter.pdf``) from the results in
    ``folder``; returns what was written. ``share`` leaves out dates, file names and fingerprints; ``settings`` are a
    pipeline's ``ReportSettings``, by default those that the manifest holds. ``kept_back`` are entries of the manifest as
    they are before names and folders of people are taken out; with them the session before is found even there.
    """
    from condyle.report.page import page_text

    folder = Path(folder)
    results = read_results(folder, kept_back)
    content = content_of(results, settings if settings is not None else _settings_in(results), share)
    page = folder / "report.html"
    write_text(page, page_text(content.for_page()))
    return [page, *(_pdf(folder, content) if pdf else [])]


def _settings_in(results: Results) -> Any:
    """The report's settings in the manifest; the defaults where there are none."""
    from condyle.files.pipeline_file import ReportSettings

    for step in results.manifest.get("settings", {}).get("pipeline", {}).get("stages", []):
        if isinstance(step, dict) and isinstance(step.get("report"), dict):
            return ReportSettings.model_validate(step["report"])
    return ReportSettings()


def _pdf(folder: Path, content: Content) -> list[Path]:
    from condyle.report.pages import write_pages

    return [write_pages(folder / f"report_{paper}.pdf", paper, content) for paper in ("a4", "letter")]
