"""Bytes to lines."""

from hypothesis import given
from hypothesis import strategies as st

from fermwatch_drivers.serial_line.framer import LONGEST_LINE, LineFramer


def started() -> LineFramer:
    """A framer that has seen a line end, so that the next line is whole."""
    framer = LineFramer()
    framer.feed(b"\n")
    return framer


def test_the_first_partial_line_is_dropped() -> None:
    assert LineFramer().feed(b"9.4\n20.1\n") == ([b"20.1"], 0)


def test_the_line_that_was_dropped_is_there_for_who_knows_that_it_is_whole() -> None:
    framer = LineFramer()
    assert framer.feed(b"ok") == ([], 0)
    assert framer.first == b""
    assert framer.feed(b" 1\nt=2\n") == ([b"t=2"], 0)
    assert framer.first == b"ok 1"
    framer.feed(b"t=3\n")
    assert framer.first == b""
    framer.feed(b"x" * (LONGEST_LINE + 1))
    framer.feed(b" ok 2\n")
    assert framer.first == b"", "its beginning was given up"


def test_every_line_end_counts_and_none_twice() -> None:
    assert started().feed(b"a\nb\rc\r\nd\n\n") == ([b"a", b"b", b"c", b"d"], 0)


def test_a_line_without_its_end_is_not_given_out() -> None:
    assert started().feed(b"t=19.") == ([], 0)


def test_an_overlong_line_is_counted_once_and_the_next_one_heard() -> None:
    framer = started()
    counts = [framer.feed(b"x" * 300)[1] for _ in range(20)]
    assert sum(counts) == 1
    assert framer.feed(b"end of it\n19.4\n") == ([b"19.4"], 0)


def test_an_overlong_line_within_one_chunk_is_counted() -> None:
    assert started().feed(b"x" * (LONGEST_LINE + 1) + b"\n19.4\n") == ([b"19.4"], 1)


@given(st.lists(st.binary(min_size=1, max_size=700), max_size=30))
def test_lines_stay_within_the_cap_and_memory_too(chunks: list[bytes]) -> None:
    framer = LineFramer()
    for chunk in chunks:
        lines, _ = framer.feed(chunk)
        assert all(0 < len(line) <= LONGEST_LINE and b"\n" not in line and b"\r" not in line for line in lines)
        assert len(framer._tail) <= LONGEST_LINE


@given(st.lists(st.binary(max_size=20).map(lambda line: line.translate(None, b"\r\n"))), st.data())
def test_how_the_bytes_are_cut_makes_no_difference(lines: list[bytes], data: st.DataObject) -> None:
    stream = b"".join(line + data.draw(st.sampled_from([b"\n", b"\r", b"\r\n"])) for line in lines)
    framer, heard, at = started(), [], 0
    while at < len(stream):
        size = data.draw(st.integers(1, 40))
        heard += framer.feed(stream[at : at + size])[0]
        at += size
    assert heard == [line for line in lines if line]
