"""A report to be shared holds no dates, paths or fingerprints."""

import re
from pathlib import Path

from condyle.report import write_report
from condyle.report.sharing import scrubbed
from tests.report_results import changed, copied


def test_a_shared_report_has_no_dates_paths_or_fingerprints(folder: Path, tmp_path: Path, no_figures: None) -> None:
    other = copied(folder, tmp_path)
    advice = "see /home/tester/MR01/2026-11-03/squat.c3d, recorded 3.11.2026"
    changed(other, "quality", advice=advice)
    plain, text = (write_report(other, share=share)[0].read_text() for share in (False, True))
    assert "2026-11-03" in plain
    assert "squat_right.c3d" in plain
    for forbidden in ("2026-11-03", "3.11.2026", "/home", ".c3d"):
        assert forbidden not in text
    assert not re.search(r"\b[0-9a-f]{64}\b", text)
    assert "MR01" in text


def test_scrubbing_spares_numbers_and_words() -> None:
    for kept in (
        "knee and/or hip",
        "32.5 (20.1 to 45.9)",
        "Weeks, Carty & Horan 2015, BMC Musculoskelet Disord 16:271",
    ):
        assert scrubbed(kept) == kept
    for said in ("20261103", "2026_11_03", "C:\\lab\\MR01", "../2026-03-01", "a" * 64):
        assert "[" in scrubbed(said)
        assert said not in scrubbed(said)
