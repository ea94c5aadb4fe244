"""When somebody may be told what can wait: not in their night, and the small things once a day."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo

DAY = timedelta(days=1)
LONGEST_NIGHT = timedelta(hours=14)


@dataclass(frozen=True, slots=True)
class Hours:
    """By the site's clock. quiet_from, quiet_until: the night, where they differ; digest_at: of each day.
    test_every: how long a notifier may have had nothing to tell before a test shows that it still could; 0 for never.

    The defaults are common practice.
    """

    zone: tzinfo = UTC
    quiet_from: time = time(22)
    quiet_until: time = time(7)
    digest_at: time = time(8)
    test_every: timedelta = timedelta(days=7)

    def is_night(self, now: datetime) -> bool:
        at = now.astimezone(self.zone).time()
        if self.quiet_from <= self.quiet_until:
            return self.quiet_from <= at < self.quiet_until
        return at >= self.quiet_from or at < self.quiet_until

    def same_night(self, before: datetime, now: datetime) -> bool:
        """Whether it is night, and that was in this one."""
        return self.is_night(now) and self.is_night(before) and timedelta() <= now - before < LONGEST_NIGHT

    def digest_is_due(self, last: datetime, now: datetime) -> bool:
        """Whether the hour of a digest has come since that instant; one that falls into the night waits for its end."""
        if self.is_night(now):
            return False
        today = now.astimezone(self.zone).replace(
            hour=self.digest_at.hour, minute=self.digest_at.minute, second=0, microsecond=0
        )
        latest = today if today <= now else today - DAY
        return last < latest

    def test_is_due(self, last_told: datetime, last_digest: datetime, now: datetime) -> bool:
        """In a digest's hour, of a notifier that has been silent for long."""
        return bool(self.test_every) and now - last_told >= self.test_every and self.digest_is_due(last_digest, now)
