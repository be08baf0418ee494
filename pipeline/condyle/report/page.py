"""What the page shows, put into its template; everything that came from a file is escaped there."""

import base64
import hashlib
from importlib import resources
from typing import Any

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from condyle.report.drawing import inline_svg
from condyle.report.skeleton_data import as_json
from condyle.report.words import interval, number, spoken, with_interval


def page_text(content: dict[str, Any]) -> str:
    """The whole page as text."""
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters |= {"number": number, "spoken": spoken, "capitalize": _capital}
    environment.globals |= {"interval": interval, "with_interval": with_interval, "svg": _svg}
    moving = content["skeleton"]
    script = _resource("skeleton.js") if moving else ""
    filled = {
        **content,
        "skeleton": Markup(as_json(moving)) if moving else "",
        "skeleton_names": [t["name"] for t in moving["trials"]] if moving else [],
        "css": Markup(_resource("report.css")),
        "script": Markup(script),
        "script_hash": base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
    }
    return environment.from_string(_resource("report.html")).render(filled) + "\n"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _svg(picture: Any) -> Markup:
    return Markup(inline_svg(picture))


def _resource(name: str) -> str:
    return (resources.files("condyle.report") / name).read_text(encoding="utf-8")
