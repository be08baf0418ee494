"""Which points are markers, and which are angles, forces or a model's output that a file keeps among them?"""

from condyle.files.c3d_structure import Structure
from condyle.files.label_text import clean, is_unlabelled

MARKER, UNLABELLED = "marker", "unlabelled"
# The names the C3D standard's documentation gives these lists of labels; POINT:TYPE_GROUPS may add others.
_LISTS = {
    "ANGLES": "angle",
    "FORCES": "force",
    "MOMENTS": "moment",
    "POWERS": "power",
    "SCALARS": "scalar",
    "REACTIONS": "reaction",
}
_MODELLED = {"MODELED_MARKERS": "modelled"}


def point_kinds(structure: Structure, labels: tuple[str, ...]) -> tuple[str, ...]:
    """For each point `marker`, `unlabelled`, `modelled` (a position that was computed), `angle`, `force`, ..."""
    lists = dict(_LISTS | _MODELLED)
    lists |= {name: kind for name, kind in _type_groups(structure).items() if name not in lists and name != "LABELS"}
    kind_of: dict[str, str] = {}
    for name, kind in lists.items():
        for record in (name, f"{name}2", f"{name}3"):
            for raw in structure.texts("POINT", record):
                kind_of.setdefault(clean(raw)[0], kind)
    kind_of.pop("", None)
    return tuple(UNLABELLED if is_unlabelled(label) else kind_of.get(label, MARKER) for label in labels)


def _type_groups(structure: Structure) -> dict[str, str]:
    """POINT:TYPE_GROUPS holds pairs: what the points are, and the parameter that lists their labels."""
    texts = [clean(raw)[0].upper() for raw in structure.texts("POINT", "TYPE_GROUPS")]
    record = structure.all("POINT", "TYPE_GROUPS")
    if not record or len(record[0].dims) < 2 or len(texts) % 2:
        return {}
    return {name: kind.lower() for kind, name in zip(texts[::2], texts[1::2], strict=True) if kind and name}
