"""A batch's own settings of the rules: over the fermenter's, for as long as it is in it."""

import pytest

from fermwatch.commands.batches.describing import rule_settings
from fermwatch.contracts.inbox import OutcomeState, RequestKind
from fermwatch.contracts.store import Writer
from fermwatch.errors import InputError
from fermwatch.inbox.receiving import FileInbox
from fermwatch.model.rule_settings import DEFAULTS, for_batch
from tests.support.samples import NOW, batch, request
from tests.unit.watching.test_logbook import go_on, opened_batch, stands

HOT_C = 22.0


def test_they_stand_over_the_fermenters() -> None:
    assert for_batch(DEFAULTS, {"outside_warning_h": 6.0}).outside_warning_h == 6.0
    assert for_batch(DEFAULTS, {}) == DEFAULTS


def test_a_mistyped_one_is_asked_back() -> None:
    assert rule_settings(["outside_warning_h=3"]) == {"outside_warning_h": 3.0}
    with pytest.raises(InputError, match="did you mean outside_warning_h"):
        rule_settings(["outside_warnin_h=3"])
    with pytest.raises(InputError, match="is no setting"):
        rule_settings(["outside_warning_h"])


def test_an_alarm_waits_as_long_as_the_batch_says(writer: Writer, inbox: FileInbox) -> None:
    book = opened_batch(writer, inbox)
    changes = {"id": batch().id, "changes": {"rule_settings": {"outside_warning_h": 0.5}}}
    inbox.put(request(RequestKind.EDIT_BATCH, changes))
    assert [one.state for one in book.attend(NOW)] == [OutcomeState.DONE]
    go_on(book, NOW, 1.0, HOT_C)
    assert stands(writer)


def test_the_store_refuses_a_setting_that_is_none(writer: Writer, inbox: FileInbox) -> None:
    opened_batch(writer, inbox)
    asked = request(RequestKind.EDIT_BATCH, {"id": batch().id, "changes": {"rule_settings": {"nonsense": 1.0}}})
    outcome = writer.apply(asked, NOW)
    assert outcome.state is OutcomeState.REFUSED
    assert "nonsense" in outcome.reason
