"""The same content as PDF pages, A4 and Letter: blocks one below the other, a new page where one is full."""

import re
import textwrap
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from condyle import __version__
from condyle.files.atomic import atomic_path
from condyle.report.blocks import Block, Table, Words, blocks_of
from condyle.report.content import Content
from condyle.report.drawing import GREY, INK, PALE, Picture, styled
from condyle.report.words import CAUSE_SENTENCE

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PAPERS: dict[str, tuple[float, float]] = {"a4": (8.27, 11.69), "letter": (8.5, 11.0)}
_SIDE, _TOP, _BOTTOM = 0.6, 0.6, 0.7
_LOOK: dict[str, tuple[float, str, str, float]] = {  # points, weight, colour, space before in inches
    "title": (16, "bold", INK, 0.0),
    "heading": (12.5, "bold", INK, 0.22),
    "subheading": (10, "bold", INK, 0.12),
    "strong": (10, "bold", INK, 0.06),
    "text": (9.5, "normal", INK, 0.03),
    "note": (8, "normal", GREY, 0.03),
}
_CELL = 7.0  # points of a table's text
_QUESTION = 0.4  # inches above a picture, for its question
_LETTER = 0.56  # width of a letter over its size, on average; generous, so that no line leaves the page


class _Piece(NamedTuple):
    """A part of a block that stands on one page: its height and how it is drawn with its top at y [inches]."""

    height: float
    content: Any
    keep: bool  # stays with the piece after it


def write_pages(path: Path, paper: Literal["a4", "letter"] | str, content: Content) -> Path:
    """Write the report as PDF on this paper."""
    from matplotlib.backends.backend_pdf import PdfPages

    size = PAPERS[paper]
    tall = size[1] - _TOP - _BOTTOM
    pieces = [piece for block in blocks_of(content) for piece in _pieces(block, size[0] - 2 * _SIDE, tall)]
    pages = list(_paged(pieces, tall))
    names = {
        "Title": content.title,
        "Creator": f"condyle {__version__}",
        "CreationDate": None,
        "ModDate": None,
        "Producer": None,
    }
    with styled(), atomic_path(path) as temporary, PdfPages(temporary, metadata=names) as pdf:
        for number, page in enumerate(pages, start=1):
            figure = _page(page, size)
            figure.text(_SIDE / size[0], 0.4 / size[1], CAUSE_SENTENCE, fontsize=6.5, color=GREY)
            figure.text(
                1 - _SIDE / size[0], 0.4 / size[1], f"{number} / {len(pages)}", fontsize=7, color=GREY, ha="right"
            )
            pdf.savefig(figure)
    return path


def _pieces(block: Block, width: float, tall: float) -> Iterator[_Piece]:
    if isinstance(block, Words):
        points, _, _, before = _LOOK[block.kind]
        lines = textwrap.wrap(block.text, max(20, int(width * 72 / (points * _LETTER)))) or [""]
        yield _Piece(before + len(lines) * points * 1.35 / 72, (block.kind, lines), block.kind.endswith("heading"))
    elif isinstance(block, Picture):
        words = _QUESTION + _note_height(block, width)
        fitting = replace(block, height=min(block.height, tall - words))
        yield _Piece(words + fitting.height, fitting, False)
    else:
        yield from _table_pieces(block, width)


def _note_height(picture: Picture, width: float) -> float:
    return len(_note(picture, width)) * 7.5 * 1.35 / 72 + 0.08


def _note(picture: Picture, width: float) -> list[str]:
    return textwrap.wrap(picture.note, int(width * 72 / (7.5 * _LETTER)))


def _table_pieces(table: Table, width: float) -> Iterator[_Piece]:
    """A row a piece: a long table goes on on the next page. Every cell is wrapped to its column."""
    table = _whole_numbers(table)
    shares = _shares(table)
    letters = [max(4, int(s * width * 72 / (_CELL * _LETTER)) - 1) for s in shares]
    caption = textwrap.wrap(table.caption, int(width * 72 / (8.5 * _LETTER)))
    yield _Piece(0.12 + len(caption) * 8.5 * 1.35 / 72, ("caption", caption), True)
    for k, row in enumerate([table.heads, *table.rows]):
        cells = [textwrap.wrap(str(cell), n) or [""] for cell, n in zip(row, letters, strict=True)]
        height = max(len(c) for c in cells) * _CELL * 1.3 / 72 + 0.05
        yield _Piece(height, ("row", (cells, shares, k == 0)), k == 0)


def _whole_numbers(table: Table) -> Table:
    """The table with intervals and mean ± SD that no line breaks apart."""
    rows = [
        [re.sub(r"(?<=\d) (to|±) (?=[\d\u2212])", "\u00a0\\1\u00a0", str(cell)) for cell in row] for row in table.rows
    ]
    return replace(table, rows=rows)


def _shares(table: Table) -> list[float]:
    """Width of every column: by its longest word and the length of its text, so that numbers do not break."""
    wanted = []
    for column in zip(table.heads, *table.rows, strict=True):
        words = max((len(w) for cell in column for w in str(cell).split(" ")), default=1)
        longest = max(len(str(cell)) for cell in column)
        wanted.append(max(words + 2.5, min(longest + 1, 34)))
    return [w / sum(wanted) for w in wanted]


def _paged(pieces: list[_Piece], tall: float) -> Iterator[list[_Piece]]:
    page: list[_Piece] = []
    used = 0.0
    for k, piece in enumerate(pieces):
        needed = piece.height
        for after in range(k, len(pieces) - 1):  # a heading is never the last thing on a page
            if not pieces[after].keep:
                break
            needed += pieces[after + 1].height
        if page and used + min(needed, tall) > tall:
            yield page
            page, used = [], 0.0
        page.append(piece)
        used += piece.height
    if page:
        yield page


def _page(pieces: list[_Piece], size: tuple[float, float]) -> "Figure":
    from matplotlib.figure import Figure

    figure = Figure(figsize=size)
    heights = [_TOP]
    pictures: list[tuple[int, Picture]] = []
    down = _TOP
    for piece in pieces:
        if isinstance(piece.content, Picture):
            _place_words_of(figure, piece.content, down, size)
            rest = piece.height - _QUESTION - piece.content.height
            pictures.append((len(heights) + 1, piece.content))
            heights += [_QUESTION, piece.content.height, rest]
        else:
            _place_text(figure, piece, down, size)
            heights.append(piece.height)
        down += piece.height
    heights.append(max(size[1] - sum(heights), 0.01))
    width = size[0] - 2 * _SIDE
    grid = figure.add_gridspec(len(heights), 3, height_ratios=heights, width_ratios=[_SIDE, width, _SIDE])
    for row, picture in pictures:
        picture.draw(figure.add_subfigure(grid[row, 1]), width, picture.height)
    return figure


def _place_words_of(figure: "Figure", picture: Picture, down: float, size: tuple[float, float]) -> None:
    width = size[0] - 2 * _SIDE
    figure.text(_SIDE / size[0], 1 - (down + 0.3) / size[1], picture.question, fontsize=10, fontweight="bold")
    for k, words in enumerate(_note(picture, width), start=1):
        at = down + _QUESTION + picture.height + k * 7.5 * 1.35 / 72
        figure.text(_SIDE / size[0], 1 - at / size[1], words, fontsize=7.5, color=GREY)


def _place_text(figure: "Figure", piece: _Piece, down: float, size: tuple[float, float]) -> None:
    kind, content = piece.content
    if kind == "row":
        _place_row(figure, content, down, piece.height, size)
        return
    points, weight, colour, before = (8.5, "bold", INK, 0.12) if kind == "caption" else _LOOK[kind]
    for k, words in enumerate(content):
        at = down + before + (k + 0.85) * points * 1.35 / 72
        figure.text(_SIDE / size[0], 1 - at / size[1], words, fontsize=points, fontweight=weight, color=colour)


def _place_row(figure: "Figure", row: Any, down: float, height: float, size: tuple[float, float]) -> None:
    from matplotlib.lines import Line2D

    cells, shares, head = row
    width, across = size[0] - 2 * _SIDE, _SIDE
    for lines, share in zip(cells, shares, strict=True):
        for k, words in enumerate(lines):
            at = down + (k + 0.9) * _CELL * 1.3 / 72
            figure.text(
                across / size[0], 1 - at / size[1], words, fontsize=_CELL, fontweight="bold" if head else "normal"
            )
        across += share * width
    y = 1 - (down + height - 0.015) / size[1]
    ends = [_SIDE / size[0], 1 - _SIDE / size[0]]
    figure.add_artist(Line2D(ends, [y, y], color=INK if head else PALE, lw=1.0 if head else 0.5))
