"""Reports whose pictures nobody looks at: drawing them takes most of the time of a short session's run."""

from collections.abc import Iterator

import pytest

from condyle.report.drawing import Picture


def named_only(picture: Picture) -> str:
    """The place of a picture on the page."""
    return f"<!-- {picture.name} -->"


@pytest.fixture(scope="module")
def without_pictures() -> Iterator[None]:
    """The module's reports are written without their pictures."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("condyle.report.page.inline_svg", named_only)
        yield
