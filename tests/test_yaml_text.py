"""YAML as text: nothing is guessed, nothing is dropped, every node has its line."""

import contextlib
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from condyle.errors import ConfigurationErrors
from condyle.files.yaml_text import parse_yaml_text, read_yaml_text


def mistakes(text: str) -> list[str]:
    with pytest.raises(ConfigurationErrors) as caught:
        parse_yaml_text(text, "x.yaml")
    assert caught.value.status == 2
    return caught.value.sentences


@pytest.mark.parametrize(
    "word", ["010", "no", "12:30", "1e3", "0x1F", "2026-11-03", "yes", "1_000", ".5", "+.inf", "0o17", "on", "=", "NaN"]
)
def test_scalars_stay_the_text_that_was_written(word: str) -> None:
    assert parse_yaml_text(f"key: {word}\nlist: [{word}]").tree == {"key": word, "list": [word]}


def test_plain_safe_load_does_what_this_reader_is_there_to_prevent() -> None:
    guessed = yaml.safe_load("id: 010\nshoes: no\nat: 12:30\nid: 7")
    assert guessed == {"id": 7, "shoes": False, "at": 750}


@pytest.mark.parametrize("nothing", ["", "~", "null", "Null", "NULL"])
def test_nothing_is_none_unless_quoted(nothing: str) -> None:
    assert parse_yaml_text(f"key: {nothing}").tree == {"key": None}
    assert parse_yaml_text(f"key: '{nothing}'").tree == {"key": nothing}


def test_every_node_keeps_its_line() -> None:
    text = parse_yaml_text("a: 1\nb:\n  - x\n  - y: 2\n    z: [3,\n      4]\n")
    lines = {("a",): 1, ("b",): 2, ("b", 0): 3, ("b", 1, "y"): 4, ("b", 1, "z"): 5, ("b", 1, "z", 1): 6}
    assert {path: text.line(path) for path in lines} == lines
    assert text.line(("b", 1, "missing", "deeper")) == 4, "the nearest node above"
    assert text.at(("b", 1, "z", 0)) == "3"


WRONG = {
    "doubled key": ("a: 1\nb: 2\na: 3", "line 3: key `a` stands twice, first in line 1"),
    "doubled key inside": ("a:\n  b: 1\n  b: 2", "line 3: key `b` stands twice, first in line 2"),
    "merge": ("a: &x {b: 1}\nc:\n  <<: *x", "line 3: `<<` (merge) is not used here"),
    "tag that runs code": ("a: !!python/object/apply:os.system [ls]", "line 1: tag `!!python/object/apply:os.system`"),
    "tag on a scalar": ("a: !!int 3", "line 1: tag `!!int` is not used here"),
    "own tag": ("a: 1\nb: !mine {c: 1}", "line 2: tag `!mine` is not used here"),
    "key that is a list": ("? [a, b]\n: c", "line 1: a key must be one plain word"),
    "empty key": ("'': c", "line 1: a key must be one plain word"),
    "alias of itself": ("a: &x [1, *x]", "line 1: an alias that contains itself"),
    "unknown alias": ("a: *x", "line 1: not readable as YAML: found undefined alias"),
    "tab": ("a:\n\t- b", "line 2: not readable as YAML: found character a tab"),
    "open quote": ("a: 'x\nb: c", "not readable as YAML"),
    "open bracket": ("a: 1\nb: [1, 2\nc: 3", "line 3: not readable as YAML"),
    "two documents": ("a: 1\n---\nb: 2", "line 2: not readable as YAML: a second document starts here"),
    "control character": ("a: 1\nb: \x07", "line 2: control character U+0007"),
    "empty": ("", "the file is empty; expected lines such as `key: value`"),
    "comment only": ("# nothing\n", "the file is empty"),
    "list": ("- a\n- b", "line 1: found a list; expected lines such as `key: value`"),
    "word": ("hello", "line 1: found a single value"),
    "too deep": ("[" * 1200, "nested more than 40 levels deep"),
    "deep": ("a: " + "[" * 60 + "]" * 60, "more than 40 levels"),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_gets_a_sentence_with_file_and_line(name: str) -> None:
    text, expected = WRONG[name]
    (sentence,) = mistakes(text)
    assert sentence.startswith("x.yaml")
    assert expected in sentence


def test_all_mistakes_are_told_at_once() -> None:
    assert [s.split(":")[0] for s in mistakes("a: 1\na: 2\nb: !!int 3\n<<: {c: 1}")] == [
        f"x.yaml, line {line}" for line in (2, 3, 4)
    ]


def test_aliases_of_aliases_do_not_grow_without_bound() -> None:
    rows = ["l0: &l0 [x, x, x, x, x, x, x, x, x, x]"]
    rows += [f"l{n}: &l{n} [{', '.join([f'*l{n - 1}'] * 10)}]" for n in range(1, 9)]
    (sentence,) = mistakes("\n".join(rows))
    assert "more than 50000 values" in sentence


def test_an_alias_that_is_harmless_is_written_out() -> None:
    assert parse_yaml_text("a: &x [1, 2]\nb: *x").tree == {"a": ["1", "2"], "b": ["1", "2"]}


def file_mistake(path: Path) -> str:
    with pytest.raises(ConfigurationErrors) as caught:
        read_yaml_text(path)
    (sentence,) = caught.value.sentences
    return sentence


def test_files_that_are_no_text(tmp_path: Path) -> None:
    latin = tmp_path / "latin.yaml"
    latin.write_bytes("a: 1\nwhy: Knöchel\n".encode("latin-1"))
    assert file_mistake(latin) == f"{latin}, line 2: byte 0xf6 is not UTF-8; save the file as UTF-8 text"
    for name, content in (("trial.c3d", b"\x02P" + bytes(3_000_000)), ("renamed.yaml", b"\x02P\x80")):
        (tmp_path / name).write_bytes(content)
        assert "is a C3D file; expected a YAML file, such as the session.yaml" in file_mistake(tmp_path / name)
    assert "this is a folder" in file_mistake(tmp_path)
    assert "no such file" in file_mistake(tmp_path / "nothing.yaml")
    large = tmp_path / "large.yaml"
    large.write_bytes(b"a: 1\n" + b"#" * 2_000_000)
    assert "this is no configuration file" in file_mistake(large)


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "bom.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: 1\r\nb: 2\r\n")
    text = read_yaml_text(path)
    assert text.tree == {"a": "1", "b": "2"}
    assert text.line(("b",)) == 2


words = st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=12)
trees = st.recursive(words, lambda t: st.lists(t, max_size=4) | st.dictionaries(words, t, max_size=4), max_leaves=12)


@settings(max_examples=30, deadline=None)
@given(st.dictionaries(words, trees, min_size=1, max_size=4))
def test_any_tree_of_text_comes_back_as_it_was(tree: dict[str, object]) -> None:
    written = yaml.safe_dump(tree, default_style='"', allow_unicode=True)
    assert parse_yaml_text(written.replace("!!str ", "")).tree == tree


@given(st.text(max_size=60))
def test_no_text_makes_it_crash(text: str) -> None:
    with contextlib.suppress(ConfigurationErrors):
        assert isinstance(parse_yaml_text(text).tree, dict)
