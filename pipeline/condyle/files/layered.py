"""A YAML file laid over the file that its ``defaults:`` names; every node knows which of them it came from."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from condyle.errors import ConfigurationErrors
from condyle.files.yaml_text import TreePath, YamlText, read_yaml_text

KEY = "defaults"
_LONGEST_CHAIN = 5


@dataclass(frozen=True)
class LayeredText(YamlText):
    """The merged tree; lines and folders are those of the file that a node came from."""

    owners: dict[TreePath, YamlText] = field(default_factory=dict, repr=False)

    def owner(self, path: TreePath) -> YamlText:
        """The file that the node at ``path``, or the nearest one above it, came from."""
        return next(
            (self.owners[path[:end]] for end in range(len(path), 0, -1) if path[:end] in self.owners), self.owners[()]
        )

    def line(self, path: TreePath) -> int:
        """The line of the node in its own file."""
        return self.owner(path).line(path)

    def sentence(self, path: TreePath, words: str) -> str:
        """The words with file and line of the node in front."""
        return self.owner(path).sentence(path, words)

    def folder(self, path: TreePath) -> Path:
        """The folder that a relative path written at ``path`` starts from."""
        return self.owner(path).file.absolute().parent


def read_layered_text(path: Path) -> LayeredText:
    """Read a YAML file and, under it, the file that its ``defaults:`` names, and so on.

    Mappings are merged key by key; a list or a value replaces the one below it as a whole.
    """
    layers = _chain(path)
    owners: dict[TreePath, YamlText] = {(): layers[0]}
    tree: dict[str, Any] = {}
    for layer in reversed(layers):
        tree = _laid_over(tree, layer.tree, layer, (), owners)
    return LayeredText(layers[0].file, tree, layers[0].lines, owners)


def _chain(path: Path) -> list[YamlText]:
    layers = [read_yaml_text(path)]
    seen = {path.resolve()}
    while KEY in layers[-1].tree:
        here = layers[-1]
        named = here.tree.pop(KEY)
        if not isinstance(named, str):
            raise ConfigurationErrors(
                [here.sentence((KEY,), f"key `{KEY}` is no text; expected the path of one YAML file")]
            )
        below = here.file.absolute().parent / named
        if not below.is_file():
            raise ConfigurationErrors([here.sentence((KEY,), f"key `{KEY}`: no such file: {named}")])
        if below.resolve() in seen or len(layers) >= _LONGEST_CHAIN:
            raise ConfigurationErrors(
                [here.sentence((KEY,), f"key `{KEY}`: {named} leads back to this file or too far")]
            )
        seen.add(below.resolve())
        layers.append(read_yaml_text(below))
    return layers


def _laid_over(
    below: dict[str, Any], above: dict[str, Any], layer: YamlText, path: TreePath, owners: dict[TreePath, YamlText]
) -> dict[str, Any]:
    out = dict(below)
    for key, value in above.items():
        here = (*path, key)
        owners[here] = layer
        under = below.get(key)
        if isinstance(value, dict):
            out[key] = _laid_over(under if isinstance(under, dict) else {}, value, layer, here, owners)
        else:
            out[key] = value
    return out
