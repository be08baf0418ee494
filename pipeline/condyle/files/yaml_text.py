"""YAML read as text: every scalar stays the string the user wrote, and every node keeps its line.

The settings classes decide the types. Read the usual way, participant 010 becomes 8, `no` becomes False, 12:30 becomes
750 and a doubled key overwrites the first without a word.
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from condyle.errors import ConfigurationErrors

TreePath = tuple[str | int, ...]

_LARGEST_BYTES = 2_000_000  # a configuration is a page or two; a C3D file given by mistake is not one
_C3D_MARK, _FIRST_PRINTED = 0x50, 0x09  # second byte of every C3D file; the first is a block number, as no text begins
_MOST_NODES = 50_000  # aliases of aliases grow without bound
_DEEPEST = 40
_NOTHING = {"", "~", "null", "Null", "NULL"}
_STRING_TAG = "tag:yaml.org,2002:str"


@dataclass(frozen=True)
class YamlText:
    """A YAML file as a plain tree of dict, list, str and None, with the line of every node."""

    file: Path
    tree: dict[str, Any]
    lines: Mapping[TreePath, int] = field(repr=False)

    def line(self, path: TreePath) -> int:
        """The line of the node at ``path``, or of the nearest node above it that is in the file."""
        for end in range(len(path), -1, -1):
            if path[:end] in self.lines:
                return self.lines[path[:end]]
        return 1

    def at(self, path: TreePath) -> Any:
        """The part of the tree at ``path``; KeyError or IndexError where there is none."""
        node: Any = self.tree
        for step in path:
            node = node[step]
        return node

    def sentence(self, path: TreePath, words: str) -> str:
        """The words with their place in front: ``FILE, line N: words``."""
        return f"{shown(self.file)}, line {self.line(path)}: {words}"


def shown(path: Path) -> str:
    """The path as a reader wants it: relative where it lies below the working directory."""
    try:
        return str(path.relative_to(Path.cwd())) if path.is_absolute() else str(path)
    except (ValueError, OSError):
        return str(path)


def read_yaml_text(path: str | os.PathLike[str]) -> YamlText:
    """Read a YAML file whose top level is a mapping; raises ConfigurationErrors with one sentence a mistake."""
    file = Path(path)
    return parse_yaml_text(_text_of(file), file)


def parse_yaml_text(text: str, file: str | os.PathLike[str] = "<text>") -> YamlText:
    """The same for text that is already in memory; ``file`` only names it in errors."""
    path = Path(file)
    walk = _Walk(path)
    node = _composed(text, path)
    if node is None:
        raise ConfigurationErrors([f"{shown(path)}: the file is empty; expected lines such as `key: value`"])
    tree = walk.plain(node, (), ())
    if not walk.sentences and not isinstance(tree, dict):
        line = node.start_mark.line + 1
        walk.sentences.append(f"{shown(path)}, line {line}: found {_kind(node)}; expected lines such as `key: value`")
    if walk.sentences:
        raise ConfigurationErrors(walk.sentences)
    return YamlText(path, tree, walk.lines)


def _text_of(file: Path) -> str:
    try:
        if file.is_dir():
            raise ConfigurationErrors([f"{shown(file)}: this is a folder; expected a YAML file"])
        if not file.is_file():
            raise ConfigurationErrors([f"{shown(file)}: no such file; correct the name, or put the file there"])
        with file.open("rb") as stream:
            data = stream.read(_LARGEST_BYTES + 1)
    except OSError as error:
        raise ConfigurationErrors([f"{shown(file)}: cannot be read ({error.strerror})"]) from error
    if file.suffix.casefold() == ".c3d" or (len(data) > 1 and data[0] < _FIRST_PRINTED and data[1] == _C3D_MARK):
        words = (
            "this is a C3D file; expected a YAML file, such as the session.yaml of a session folder (what is in a C3D "
            "file says `condyle inspect`)"
        )
        raise ConfigurationErrors([f"{shown(file)}: {words}"])
    if len(data) > _LARGEST_BYTES:
        raise ConfigurationErrors([f"{shown(file)}: larger than {_LARGEST_BYTES} bytes; this is no configuration file"])
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise ConfigurationErrors(
            [f"{shown(file)}, line {line}: byte {data[error.start]:#04x} is not UTF-8; save the file as UTF-8 text"]
        ) from error


class _TextLoader(yaml.SafeLoader):
    """A safe loader that guesses no types."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012 - the name and form are the library's


def _composed(text: str, file: Path) -> yaml.Node | None:
    loader: _TextLoader | None = None
    try:
        loader = _TextLoader(text)
        node: yaml.Node | None = loader.get_single_node()
        return node
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        where = f", line {mark.line + 1}" if mark else ""
        problem = (error.problem or error.context or "cannot be parsed").replace("'\\t'", "a tab")
        if "but found another document" in problem:
            problem = "a second document starts here (`---`)"
        raise ConfigurationErrors([f"{shown(file)}{where}: not readable as YAML: {problem}"]) from error
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        code = ord(error.character) if isinstance(error.character, str) else int(error.character)
        raise ConfigurationErrors(
            [f"{shown(file)}, line {line}: control character U+{code:04X} is not allowed in YAML; remove it"]
        ) from error
    except RecursionError as error:
        raise ConfigurationErrors([f"{shown(file)}: nested more than {_DEEPEST} levels deep"]) from error
    finally:
        if loader is not None:
            loader.dispose()


def _kind(node: yaml.Node) -> str:
    return "a list" if isinstance(node, yaml.SequenceNode) else "a single value"


class _Walk:
    """The walk from the library's nodes to a plain tree: it collects lines and mistakes on its way."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.lines: dict[TreePath, int] = {}
        self.sentences: list[str] = []
        self.nodes = 0

    def plain(self, node: yaml.Node, path: TreePath, above: tuple[int, ...]) -> Any:
        self.nodes += 1
        self.lines.setdefault(path, node.start_mark.line + 1)
        if id(node) in above:
            return self.wrong(node, "an alias that contains itself; write the value out")
        if self.nodes > _MOST_NODES or len(path) > _DEEPEST:
            limit = (
                f"{_DEEPEST} levels"
                if len(path) > _DEEPEST
                else f"{_MOST_NODES} values (aliases counted as written out)"
            )
            raise ConfigurationErrors([f"{self.place(node)}: more than {limit}; this is no configuration file"])
        return self.dispatch(node, path, (*above, id(node)))

    def dispatch(self, node: yaml.Node, path: TreePath, above: tuple[int, ...]) -> Any:
        if isinstance(node, yaml.ScalarNode):
            if node.tag != _STRING_TAG:
                return self.wrong(node, f"tag `{_short(node.tag)}` is not used here; write the value without it")
            nothing = node.style is None and node.value in _NOTHING
            return None if nothing else node.value
        if node.tag not in ("tag:yaml.org,2002:map", "tag:yaml.org,2002:seq"):
            return self.wrong(node, f"tag `{_short(node.tag)}` is not used here; write the value without it")
        if isinstance(node, yaml.SequenceNode):
            return [self.plain(item, (*path, index), above) for index, item in enumerate(node.value)]
        return self.mapping(node, path, above)

    def mapping(self, node: yaml.Node, path: TreePath, above: tuple[int, ...]) -> dict[str, Any]:
        out: dict[str, Any] = {}
        for key_node, value_node in node.value:
            key = key_node.value if isinstance(key_node, yaml.ScalarNode) else None
            if not key:
                self.wrong(key_node, "a key must be one plain word")
            elif key == "<<" and key_node.style is None:
                self.wrong(key_node, "`<<` (merge) is not used here; write the keys out")
            elif key in out:
                first = self.lines[(*path, key)]
                self.wrong(key_node, f"key `{key}` stands twice, first in line {first}; keep one of them")
            else:
                self.lines[(*path, key)] = key_node.start_mark.line + 1
                out[key] = self.plain(value_node, (*path, key), above)
        return out

    def place(self, node: yaml.Node) -> str:
        return f"{shown(self.file)}, line {node.start_mark.line + 1}"

    def wrong(self, node: yaml.Node, words: str) -> None:
        self.sentences.append(f"{self.place(node)}: {words}")


def _short(tag: str) -> str:
    return tag.replace("tag:yaml.org,2002:", "!!")
