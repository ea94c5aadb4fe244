"""Why a port cannot be opened, in a person's words. The errors are raised by the system wherever it lets us."""

import errno
import fcntl
import os
import termios
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial

from fermwatch.errors import ProbeError, ProbeRefused, ProbeUnavailable
from fermwatch_drivers.serial_line.options import SerialLineOptions
from fermwatch_drivers.serial_line.port import explain_loss, explain_opening, open_port


def options(port: object) -> SerialLineOptions:
    return SerialLineOptions.model_validate({"port": str(port), "format": "number"})


def failing_with(number: int) -> serial.SerialException:
    return serial.SerialException(number, f"could not open port: {os.strerror(number)}")


@pytest.mark.parametrize(
    ("number", "kind", "says"),
    [
        (errno.ENOENT, ProbeUnavailable, "plugged in"),
        (errno.EACCES, ProbeRefused, "sudo usermod -aG dialout "),
        (errno.EBUSY, ProbeRefused, "in use"),
        (errno.EIO, ProbeUnavailable, "I/O error"),
        (errno.ENOTTY, ProbeRefused, "not a serial port"),
        (errno.EINVAL, ProbeRefused, "settings"),
        (errno.EMFILE, ProbeUnavailable, "cannot be opened"),
    ],
)
def test_each_cause_has_its_own_sentence(number: int, kind: type[ProbeError], says: str) -> None:
    error = explain_opening(failing_with(number), "/dev/ttyUSB9")
    assert type(error) is kind
    assert says in str(error)
    assert "/dev/ttyUSB9" in str(error)
    assert "\n" not in str(error)


def test_a_missing_permission_says_that_a_new_login_is_needed() -> None:
    assert "log in anew" in str(explain_opening(failing_with(errno.EACCES), "/dev/ttyUSB9"))


def test_a_missing_port_is_said_with_those_present() -> None:
    with pytest.raises(ProbeUnavailable, match=r"(Present now|No port is listed)"):
        open_port(options("/dev/serial/by-id/not-there"))


def test_a_file_is_not_a_port(tmp_path: Path) -> None:
    file = tmp_path / "notes"
    file.touch()
    with pytest.raises(ProbeRefused, match="not a serial port"):
        open_port(options(file))
    with pytest.raises(ProbeRefused, match="not a serial port"):
        open_port(options(tmp_path))


@pytest.fixture
def nobody() -> Iterator[None]:
    """An ordinary user: permissions do not bind root."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    yield
    if root:
        os.seteuid(0)


@pytest.mark.usefixtures("nobody")
def test_a_port_without_permission_is_refused() -> None:
    with pytest.raises(ProbeRefused, match=r"No permission .* sudo usermod -aG \w+ "):
        open_port(options("/proc/1/mem"))


def test_a_port_that_is_locked_is_refused_with_its_holder() -> None:
    master, slave = os.openpty()
    try:
        fcntl.flock(slave, fcntl.LOCK_EX | fcntl.LOCK_NB)
        with pytest.raises(ProbeRefused, match=rf"in use by .*process {os.getpid()}"):
            open_port(options(os.ttyname(slave)))
    finally:
        os.close(slave)
        os.close(master)


def test_a_name_full_of_escapes_is_shown_harmless() -> None:
    error = explain_opening(failing_with(errno.ENOENT), "/dev/\x1b]0;gotcha\x07")
    assert "\x1b" not in str(error)


@pytest.mark.parametrize(
    "error",
    [
        serial.SerialException("device reports readiness to read but returned no data"),
        OSError(errno.EIO, "Input/output error"),
        termios.error(errno.EIO, "Input/output error"),
        None,
    ],
)
def test_an_unplugged_port_is_unavailable_in_each_of_its_guises(error: Exception | None) -> None:
    told = explain_loss(error, "/dev/ttyUSB9")
    assert isinstance(told, ProbeUnavailable)
    assert "was lost" in str(told)
    assert "\n" not in str(told)
