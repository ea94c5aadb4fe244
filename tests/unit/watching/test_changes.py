"""What a watcher decides goes into the outbox with it: alarms, phases and verdicts that changed, and no others."""

from datetime import datetime

from fermwatch.contracts.inbox import RequestKind
from fermwatch.contracts.outbox import ChangeKind, Notice
from fermwatch.contracts.store import Writer
from fermwatch.errors import StoreError
from fermwatch.inbox.receiving import FileInbox
from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Judgement, Verdict
from fermwatch.plain_data import to_plain
from fermwatch.watching.judges import Following
from fermwatch.watching.logbook import Logbook
from tests.support.samples import NOW, batch, measurement, opening, request
from tests.unit.watching.test_judging import begun_again, round_of
from tests.unit.watching.test_logbook import HOUR, FailsOnce, go_on, opened_batch


def told(writer: Writer, kind: ChangeKind) -> list[Notice]:
    return [one for one in writer.outstanding("bell", 1000) if one.change.kind is kind]


def test_an_alarm_is_told_when_it_is_raised_and_when_it_is_over(writer: Writer, inbox: FileInbox) -> None:
    writer.subscribe("bell")
    now = go_on(opened_batch(writer, inbox), NOW, 3, 22.5)
    go_on(begun(writer, inbox, now), now, 3, 19.0)
    heat = [one.change.what for one in told(writer, ChangeKind.ALARM) if one.change.what["rule"] == "temperature-high"]
    assert [one["transitions"] for one in heat] == ["raised", "cleared"]
    assert heat[0]["severity"] == "warning"
    (asked,) = told(writer, ChangeKind.OUTCOME)
    assert (asked.change.what["kind"], asked.change.what["state"]) == ("open-batch", "done")


def begun(writer: Writer, inbox: FileInbox, now: datetime) -> Logbook:
    """The watcher was started again meanwhile: what was told is not told again."""
    book = Logbook(writer, inbox)
    book.begin(now)
    return book


def test_phase_and_verdict_are_told_when_they_change_and_not_while_they_are_looked_at_again(
    writer: Writer, inbox: FileInbox
) -> None:
    writer.subscribe("bell")
    opened_batch(writer, inbox).decide(NOW + 4 * HOUR)
    (verdict,) = told(writer, ChangeKind.VERDICT)
    assert dict(verdict.change.what) == {"before": "", "after": "not-yet"}
    assert verdict.change.subject == "batch:BATCH1"
    book, slow = begun_again(writer, inbox, NOW + 5 * HOUR)
    inbox.put(request(RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement())}))
    book.attend(NOW + 5 * HOUR)
    for _ in range(4):
        round_of(book, NOW + 5 * HOUR)
        slow.do_all()
    assert told(writer, ChangeKind.VERDICT) == [verdict]
    (phase,) = told(writer, ChangeKind.PHASE)
    assert phase.change.what["after"] == "lag"


def test_a_verdict_is_news_only_against_what_was_told_and_not_while_it_is_looked_at_again() -> None:
    safe, hold, again = (
        Judgement(NOW, verdict=Verdict(kind, NOW)) for kind in (VerdictKind.SAFE, VerdictKind.HOLD, VerdictKind.NOT_YET)
    )
    one = Following(batch(), judgement=safe, judged=safe, told=safe)
    assert one.changes == []
    one.judgement, one.outdated = again, True  # a reading was corrected: no bottling meanwhile, and no bell
    one.keep()
    assert one.changes == []
    assert one.told is safe
    one.judgement, one.judged, one.outdated = safe, safe, False
    assert one.changes == []
    one.judgement = one.judged = hold
    assert [dict(change.what) for change in one.changes] == [{"before": "safe", "after": "hold"}]
    one.keep()
    assert one.changes == []


def test_what_could_not_be_stored_is_told_with_it_later_and_once(writer: Writer, inbox: FileInbox) -> None:
    writer.subscribe("bell")
    inbox.put(opening(batch()))
    book = Logbook(FailsOnce(writer, "save_alarms"), inbox)  # type: ignore[arg-type]
    book.begin(NOW)
    book.attend(NOW)
    now = NOW
    for _ in range(2):
        try:
            now = go_on(book, now, 3, 22.5)
        except StoreError:
            continue
    alarms = [one.change.what["rule"] for one in told(writer, ChangeKind.ALARM)]
    assert alarms.count("temperature-high") == 1
