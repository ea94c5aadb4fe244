"""JSON from devices and the pointers into it; the tables are RFC 6901's own."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.errors import ProbeMisbehaving
from fermwatch_drivers import documents

# The document and results of RFC 6901 section 5; the fragments of section 6.
RFC_6901 = {
    "foo": ["bar", "baz"],
    "": 0,
    "a/b": 1,
    "c%d": 2,
    "e^f": 3,
    "g|h": 4,
    "i\\j": 5,
    'k"l': 6,
    " ": 7,
    "m~n": 8,
}
RESULTS = [
    ("", "", RFC_6901),
    ("/foo", "/foo", ["bar", "baz"]),
    ("/foo/0", "/foo/0", "bar"),
    ("/", "/", 0),
    ("/a~1b", "/a~1b", 1),
    ("/c%d", "/c%25d", 2),
    ("/e^f", "/e%5Ef", 3),
    ("/g|h", "/g%7Ch", 4),
    ("/i\\j", "/i%5Cj", 5),
    ('/k"l', "/k%22l", 6),
    ("/ ", "/%20", 7),
    ("/m~0n", "/m~0n", 8),
]


@pytest.mark.parametrize(("pointer", "fragment", "result"), RESULTS)
def test_pointers_find_what_the_rfc_says(pointer: str, fragment: str, result: object) -> None:
    assert documents.find(RFC_6901, documents.parse_pointer(pointer)) == result
    assert documents.find(RFC_6901, documents.parse_fragment(fragment)) == result


@pytest.mark.parametrize(
    "pointer", ["/foo/2", "/foo/00", "/foo/-", "/foo/+1", "/foo/٣", "/bar", "/foo/0/x", "/foo/9" * 1]
)
def test_a_pointer_to_nothing_finds_nothing(pointer: str) -> None:
    assert documents.find(RFC_6901, documents.parse_pointer(pointer)) is documents.MISSING


@pytest.mark.parametrize("pointer", ["foo", "/a~", "/a~2b", "#/a"])
def test_a_wrong_pointer_is_refused_with_a_sentence(pointer: str) -> None:
    with pytest.raises(ValueError, match="pointer"):
        documents.parse_pointer(pointer)


@given(st.lists(st.text(max_size=8), max_size=5))
def test_a_pointer_written_out_reads_the_same(steps: list[str]) -> None:
    pointer = tuple(steps)
    assert documents.parse_pointer(documents.format_pointer(pointer)) == pointer


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "NaN",
        '{"t": NaN}',
        "[Infinity]",
        "-Infinity",
        "[" * 100_000,
        '{"a":' * 100_000,
        "9" * 5000,
        b"\xff\xfe{",
    ],
    ids=lambda text: repr(text[:8]),
)
def test_bad_json_is_refused_and_nothing_escapes(text: str | bytes) -> None:
    with pytest.raises(ProbeMisbehaving):
        documents.load(text)


def test_leaves_are_the_scalars_with_their_pointers() -> None:
    document = {"t": 1, "probes": [{"temp": 2}, "x"], "none": None}
    assert dict(documents.leaves(document)) == {
        ("t",): 1,
        ("probes", "0", "temp"): 2,
        ("probes", "1"): "x",
        ("none",): None,
    }


def test_leaves_stay_few_however_large_the_document() -> None:
    assert len(list(documents.leaves(list(range(100_000))))) < 100
    deep: object = 1
    for _ in range(500):
        deep = [deep]
    assert list(documents.leaves(deep)) == []


_JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False), st.text(max_size=5)),
    lambda children: st.one_of(
        st.lists(children, max_size=4), st.dictionaries(st.text(max_size=5), children, max_size=4)
    ),
    max_leaves=12,
)


@given(_JSON)
def test_every_leaf_is_found_by_its_pointer(document: object) -> None:
    for pointer, value in documents.leaves(json.loads(json.dumps(document))):
        found = documents.find(document, pointer)
        assert type(found) is type(value)
        assert found == value
