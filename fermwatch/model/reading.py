"""Readings: as a driver hands them over, and as the store keeps them."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import IntFlag

from fermwatch.model.quantity import Unit

LITTLE_AHEAD = timedelta(minutes=2)  # as far as a device's own clock is believed


class Flag(IntFlag):
    """Why a stored reading is not to be taken at its word. A flagged one is kept, and never judged on."""

    GOOD = 0
    IMPLAUSIBLE = 1  # outside what the quantity can be
    POWER_ON_CODE = 2  # 85.0 °C or -127 °C: what common digital thermometers say when they measured nothing
    CLOCK_UNSURE = 4  # stored under the time of receipt, since the device's own was not plausible
    JUMP = 8  # further from what was believed before than beer can change in that time
    UNIT_DOUBTED = 16  # a number that is likelier said in another unit than the configured one
    AHEAD = 32  # stored while the machine's clock was ahead: its time had not come when that was found out


@dataclass(frozen=True, slots=True)
class RawReading:
    """One number as a driver read it: not converted, not screened, not calibrated.

    channel: the driver's own name for what it read, cleaned of control characters.
    unit: where the device says it itself; None leaves it to the probe's configuration.
    measured_at: the device's own time, where it sent one.
    sequence: the device's own running number, where it sent one.
    redelivered: the transport says that this may be a second delivery of the same message.
    message_id: the transport's own number for the message, which a redelivery repeats (MQTT's packet identifier).
    retained: a broker's last known value, handed out on subscribing; never a fresh reading.
    """

    channel: str
    value: float
    received_at: datetime
    unit: Unit | None = None
    measured_at: datetime | None = None
    sequence: int | None = None
    redelivered: bool = False
    message_id: int | None = None
    retained: bool = False


@dataclass(frozen=True, slots=True)
class Reading:
    """One row of the store: canonical unit (°C, SG 20/20, bar gauge, 0..1), uncalibrated.

    at_ms: device time where plausible, else time of receipt; milliseconds since 1970, UTC.
    lag_ms: time of receipt minus `at_ms`.
    """

    series: int
    at_ms: int
    value: float
    lag_ms: int = 0
    sequence: int | None = None
    flags: Flag = Flag.GOOD
    redelivered: bool = False  # an equal row already stored is then this one, delivered again
    message_id: int | None = None  # with `redelivered`: equal to a recent row's where it is the same message
