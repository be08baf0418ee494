"""The overview counts what the tables hold, puts the worst first, and runs nothing that a file brought along."""

import re
from pathlib import Path

import numpy as np
import pyarrow as pa

from condyle.archive.collect import COLUMNS
from condyle.archive.distribution import Distribution
from condyle.archive.overview import Overview
from condyle.archive.record import Record
from condyle.findings import ACCEPTED
from tests.archives import make_session, run


def table(name: str, rows: list[dict[str, object]]) -> pa.Table:
    return pa.table({c: pa.array([row.get(c) for row in rows], kind) for c, kind in COLUMNS[name].items()})


def test_a_small_distribution_vs_numpy_percentiles() -> None:
    values = np.random.default_rng(3).normal(10, 4, 1500)
    distribution = Distribution("deg")
    for part in np.array_split(values, 40):
        distribution.add(np.append(part, np.nan))
    assert distribution.count == 1500
    assert np.allclose(distribution.percentiles(5, 50, 95), np.percentile(values, [5, 50, 95]))


def test_a_large_distribution_is_a_fair_sample_in_flat_memory() -> None:
    # a sample of the first or the last values would be far off: the values rise from 0 to 1 as they come
    distribution = Distribution("mm")
    for start in range(100):
        distribution.add(np.linspace(start / 100, (start + 1) / 100, 1000))
    assert distribution.count == 100_000
    assert distribution.values.size == 2000
    assert np.allclose(distribution.percentiles(5, 50, 95), [0.05, 0.5, 0.95], atol=0.03)
    again = Distribution("mm")
    for start in range(100):
        again.add(np.linspace(start / 100, (start + 1) / 100, 1000))
    assert np.array_equal(again.values, distribution.values)


def test_values_of_repetitions_that_do_not_count_are_left_out(tmp_path: Path) -> None:
    key = {"trial": "squat", "side": "right", "bout": 1}
    depth = {**key, "task": "single_leg_squat", "measure": "depth", "unit": "mm"}
    measures = [{**depth, "repetition": i, "value": 100.0 * i} for i in (1, 2, 3)]
    repetitions = [{**key, "repetition": i, "valid": i != 3, "cause": "mixed"} for i in (1, 2, 3)]
    overview = Overview(tmp_path, ())
    overview.see(
        Record("a", "", "done"),
        {"measures": table("measures", measures), "repetitions": table("repetitions", repetitions)},
    )
    assert overview.distributions["single_leg_squat", "depth"].values.tolist() == [100.0, 200.0]


def test_the_worst_file_comes_first_and_the_counts_are_those_of_the_table(tmp_path: Path) -> None:
    overview = Overview(tmp_path, ())
    for i in range(300):
        rows = [{"trial": "squat", "subject": "R_ASIS", "check": "visible", "verdict": "review"}] * (i % 7)
        rows += [{"trial": "squat", "subject": "file", "check": "readable", "verdict": "reject"}] * (i == 41)
        overview.see(Record(f"MR{i:03d}", "", "rejected" if i == 41 else "done"), {"quality": table("quality", rows)})
    content = overview.content()
    assert dict(content["verdicts"]) == {"pass": 0, "review": sum(i % 7 for i in range(300)), "reject": 1}
    assert dict(content["statuses"]) == {"done": 299, "rejected": 1, "failed": 0}
    assert len(content["worst"]) == 100
    worst = [(item.rejects, item.reviews) for item, _ in content["worst"]]
    assert content["worst"][0][0].folder == "MR041"
    assert worst == sorted(worst, reverse=True)
    assert sum(reviews >= 5 for _, reviews in worst) == sum(i % 7 >= 5 for i in range(300))


def test_nothing_from_a_file_runs_in_the_page(tmp_path: Path) -> None:
    evil = '"><script>alert(1)</script>'
    rows = [{"trial": evil, "subject": evil, "check": evil, "verdict": "review"}]
    overview = Overview(tmp_path, (evil,))
    overview.see(Record(evil, "", "failed", reason=evil), {"quality": table("quality", rows)})
    page = overview.page()
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "default-src 'none'" in page


def test_overridden_rejects_stand_in_the_overview_with_their_reasons(tmp_path: Path) -> None:
    row = {"trial": "squat", "subject": "shank_r", "check": "cluster fit", "verdict": "review"}
    overview = Overview(tmp_path, ())
    overview.see(Record("MR01/a", "", "done"), {"quality": table("quality", [{**row, "advice": "look at it"}])})
    assert "override" not in overview.page()
    overview.see(
        Record("MR01/b", "", "done"), {"quality": table("quality", [{**row, "advice": f"{ACCEPTED}on video"}])}
    )
    assert overview.content()["overridden"] == [("MR01/b", "squat", "shank_r, cluster fit", "on video", "")]
    assert "<td>shank_r, cluster fit</td><td>on video</td>" in overview.page()


def test_links_lead_to_reports_that_exist(tmp_path: Path) -> None:
    make_session(tmp_path / "root" / "MR01 & co #1", "MR01", "s", {"squat": "x"})
    make_session(tmp_path / "root" / "bad", "MR02", "s", {"squat": "crash"})
    run(tmp_path / "root", tmp_path / "out")
    page = (tmp_path / "out" / "overview.html").read_text()
    links = re.findall(r'href="([^"]+)"', page)
    assert set(links) == {"sessions/MR01%20%26%20co%20%231/report.html"}
