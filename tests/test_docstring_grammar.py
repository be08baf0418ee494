"""Every public function of mechanics says, in one grammar, what goes in, what comes out, and what happens at the edges.

    name      : (..., 3, 3) [unit] words          one line per argument, in the order of the signature
    returns   : (..., 3) [rad] words, range
    undefined : where, and what comes out
    missing   : what a NaN does
    source    : paper, year, equation

An argument that is no array may name its kind instead of a shape: ``side : word [1] left or right``.
"""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator

import pytest

import condyle.mechanics

LINE = re.compile(r"^(\w+)\s*: (\S.*)$")
SHAPE_UNIT_WORDS = re.compile(r"^(\S.*?) \[[^\[\]]+\]( |,|$)")
CLOSING = ("returns", "undefined", "missing", "source")


def public_functions() -> Iterator[tuple[str, object]]:
    for module in pkgutil.walk_packages(condyle.mechanics.__path__, "condyle.mechanics."):
        for name, member in vars(importlib.import_module(module.name)).items():
            if inspect.isfunction(member) and member.__module__ == module.name and not name.startswith("_"):
                yield f"{module.name.removeprefix('condyle.mechanics.')}.{name}", member


FUNCTIONS = dict(public_functions())


def complaints(function) -> list[str]:
    """What is wrong with one docstring."""
    document = inspect.getdoc(function)
    if not document:
        return ["there is no docstring"]
    summary, *rest = document.splitlines()
    entries = [found.groups() for line in rest if (found := LINE.match(line))]
    names, said = [name for name, _ in entries], dict(entries)
    signature = inspect.signature(function)
    wanted = [*signature.parameters, *CLOSING]
    wrong = [f"no line for {name}" for name in wanted if name not in names]
    wrong += [f"a line for {name}, which is no argument" for name in names if name not in wanted]
    if not wrong and names != wanted:
        wrong.append(f"lines in the order {names}, wanted {wanted}")
    annotated = {name: str(p.annotation) for name, p in signature.parameters.items()}
    annotated["returns"] = str(signature.return_annotation)
    for name, annotation in annotated.items():
        text = said.get(name, "() [1] x")
        if not (found := SHAPE_UNIT_WORDS.match(text)):
            wrong.append(f"{name}: no '(shape) [unit] words' but {text!r}")
        elif annotation.startswith(("numpy.ndarray", "FloatArray")) and "(" not in found.group(1):
            wrong.append(f"{name}: an array without its shape: {text!r}")
    if not summary.endswith((".", ":", "?", ")")):
        wrong.append(f"first line is no sentence: {summary!r}")
    return wrong


def test_there_are_functions_to_look_at():
    assert len(FUNCTIONS) > 40
    assert "joint_angles.cardan_zxy" in FUNCTIONS


@pytest.mark.parametrize("name", FUNCTIONS)
def test_docstring_grammar(name):
    assert not (wrong := complaints(FUNCTIONS[name])), f"{name}: " + "; ".join(wrong)


def test_the_grammar_notices_what_is_missing():
    def stretched(length, factor):
        """Length times factor.

        length    : (...) [mm] length
        returns   : (...) [mm] longer length
        undefined : nowhere
        source    : definition
        """

    assert complaints(stretched) == ["no line for factor", "no line for missing"]
    stretched.__doc__ = stretched.__doc__.replace("(...) [mm] length", "a length").replace("source ", "factor ")
    assert any("no '(shape) [unit] words'" in c for c in complaints(stretched))
