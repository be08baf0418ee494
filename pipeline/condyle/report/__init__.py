"""The report of one session: reads results only, so that it can be drawn again without computing."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any


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
    from condyle.report.writing import write_report as write

    return write(folder, pdf=pdf, share=share, settings=settings, kept_back=kept_back)


__all__ = ["write_report"]
