"""Names that only a test would give, and a page without its tags."""

import html
import re

from condyle.files.pipeline_file import ReportSettings

SCRIPT = '<script>alert("x")</script>$\\frac{1}'
SETTINGS = ReportSettings()


def text_of(page: str) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", page))
