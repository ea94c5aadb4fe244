"""What changed is handed to every consumer, until it has taken it: nothing is lost, and nothing is new twice."""

import pytest

from fermwatch.contracts import outbox
from fermwatch.contracts.inbox import OutcomeState
from fermwatch.contracts.outbox import Change, ChangeKind
from fermwatch.contracts.store import Writer
from fermwatch.model.judgement import Judgement
from tests.conformance.stores import StoreBench
from tests.support.samples import NOW, batch, opening


def change(number: int = 1) -> Change:
    return Change(NOW, ChangeKind.ALARM, "vessel:left", {"rule": f"rule-{number}", "statement": "beer 22.5 °C"})


def put(writer: Writer, *numbers: int) -> None:
    for number in numbers:
        writer.save_alarms([], [], [change(number)])


def rules_of(writer: Writer, consumer: str, limit: int = 100) -> list[str]:
    return [one.change.what["rule"] for one in writer.outstanding(consumer, limit)]


def test_a_consumer_is_told_what_changed_since_it_is_one(writer: Writer) -> None:
    put(writer, 1)
    assert writer.outstanding("bell") == ()
    writer.subscribe("bell")
    put(writer, 2, 3)
    writer.save_judgement("BATCH1", Judgement(NOW), [change(4)])
    assert [one.change for one in writer.outstanding("bell")] == [change(2), change(3), change(4)]
    assert rules_of(writer, "bell", limit=2) == ["rule-2", "rule-3"]


def test_the_outcome_of_what_people_ask_is_a_change_and_is_told_once(writer: Writer) -> None:
    writer.subscribe("bell")
    asked = opening(batch())
    for _ in range(2):
        assert writer.apply(asked, NOW).state is OutcomeState.DONE
    (told,) = writer.outstanding("bell")
    assert told.change.kind is ChangeKind.OUTCOME
    assert told.change.what["state"] == "done"
    assert told.change.what["request"] == asked.key


def test_each_consumer_has_a_place_of_its_own_and_what_all_have_taken_is_gone(
    writer: Writer, stores: StoreBench
) -> None:
    for consumer in ("bell", "page"):
        writer.subscribe(consumer)
    empty = stores.contents()
    put(writer, 1, 2)
    first, second = writer.outstanding("bell")
    writer.taken("bell", second.number)
    assert rules_of(writer, "bell") == []
    assert rules_of(writer, "page") == ["rule-1", "rule-2"]
    writer.taken("page", first.number)
    writer.taken("bell", first.number)  # said late: it goes back to nothing
    assert (rules_of(writer, "bell"), rules_of(writer, "page")) == ([], ["rule-2"])
    writer.unsubscribe("page")
    assert len(stores.contents()) <= len(empty)
    writer.subscribe("page")
    assert rules_of(writer, "page") == []


def test_a_number_is_given_once_for_ever(writer: Writer, stores: StoreBench) -> None:
    writer.subscribe("bell")
    put(writer, 1)
    (before,) = writer.outstanding("bell")
    writer.taken("bell", before.number)
    writer.close()
    with stores.store().writer(NOW) as again:
        again.subscribe("bell")
        put(again, 2)
        (after,) = again.outstanding("bell")
    assert after.number > before.number


def test_what_was_not_said_to_be_taken_is_the_same_after_a_restart(writer: Writer, stores: StoreBench) -> None:
    writer.subscribe("bell")
    put(writer, 1, 2, 3)
    first, *rest = writer.outstanding("bell")
    writer.taken("bell", first.number)
    writer.close()  # and here it was killed, while it told of the second
    with stores.store().writer(NOW) as again:
        assert list(again.outstanding("bell")) == rest


def test_a_consumer_that_takes_nothing_fills_no_disk(writer: Writer, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fermwatch.store.sqlite.outbox.MOST_KEPT", 5)
    assert outbox.MOST_KEPT >= 1000
    writer.subscribe("bell")
    put(writer, *range(20))
    assert rules_of(writer, "bell") == [f"rule-{number}" for number in range(15, 20)]
