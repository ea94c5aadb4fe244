"""Bytes to lines: a line counts only when its end was heard, and never grows beyond a cap. Pure."""

LONGEST_LINE = 512  # bytes


class LineFramer:
    """Cuts a stream of bytes at LF, CR or CRLF.

    What comes before the first line end is dropped, since its beginning was missed ("19.4" may be the rest of
    "119.4"). A line beyond the cap is dropped up to the next line end. What was not ended when the stream stops is
    never given out: "19." is not 19.
    """

    def __init__(self, longest: int = LONGEST_LINE) -> None:
        self._longest = longest
        self._tail = b""
        self._discarding = True

    def feed(self, chunk: bytes) -> tuple[list[bytes], int]:
        """The lines that this chunk ends, without empty ones, and how many overlong lines were given up."""
        lines = (self._tail + chunk).splitlines()
        self._tail = lines.pop() if lines and not chunk.endswith((b"\n", b"\r")) else b""
        if lines and self._discarding:
            del lines[0]
            self._discarding = False
        whole = [line for line in lines if 0 < len(line) <= self._longest]
        overlong = sum(len(line) > self._longest for line in lines)
        if self._discarding:
            self._tail = b""
        elif len(self._tail) > self._longest:
            self._tail, self._discarding = b"", True
            overlong += 1
        return whole, overlong
