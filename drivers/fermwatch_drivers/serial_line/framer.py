"""Bytes to lines: a line counts only when its end was heard, and never grows beyond a cap. Pure."""

LONGEST_LINE = 512  # bytes


class LineFramer:
    """Cuts a stream of bytes at LF, CR or CRLF.

    What comes before the first line end is dropped, since its beginning was missed ("19.4" may be the rest of
    "119.4"). A line beyond the cap is dropped up to the next line end. What was not ended when the stream stops is
    never given out: "19." is not 19.

    first: the line that the last chunk ended and that was dropped for its beginning, empty where none was: for whoever
    knows that nothing of it was missed.
    """

    def __init__(self, longest: int = LONGEST_LINE) -> None:
        self._longest = longest
        self._tail = b""
        self._discarding = True
        self._is_cut = False  # what is being dropped is not there from its beginning
        self.first = b""

    def feed(self, chunk: bytes) -> tuple[list[bytes], int]:
        """The lines that this chunk ends, without empty ones, and how many overlong lines were given up."""
        lines = (self._tail + chunk).splitlines()
        self._tail = lines.pop() if lines and not chunk.endswith((b"\n", b"\r")) else b""
        self.first = b""
        if lines and self._discarding:
            self.first = b"" if self._is_cut else lines[0]
            del lines[0]
            self._discarding = self._is_cut = False
        whole = [line for line in lines if 0 < len(line) <= self._longest]
        overlong = sum(len(line) > self._longest for line in lines)
        if len(self._tail) > self._longest:
            overlong += not self._discarding
            self._tail, self._discarding, self._is_cut = b"", True, True
        return whole, overlong
