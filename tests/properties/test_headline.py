"""Over any snapshot: "all well" means that nothing at all speaks against it, told here in other words than there."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.feed import Freshness, Lane, ProbeView, Snapshot
from fermwatch.contracts.kept import Misread
from fermwatch.contracts.store import SourceState
from fermwatch.drawing.page import Sheet, overview
from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.report.status import status_text
from fermwatch.saying.for_programs import status as status_json
from fermwatch.saying.headline import Urgency, headline, truths
from fermwatch.saying.voice import Voice
from tests.dashboard.snapshots import NOW, healthy, in_package, source, watcher

VOICE = Voice()
# Mostly well, so that "all well" is met often enough to be questioned.
rarely = st.integers(0, 9).map(lambda number: number == 0)


@st.composite
def view(draw: st.DrawFn, base: ProbeView) -> ProbeView:
    freshness = draw(st.sampled_from(Freshness)) if draw(rarely) else Freshness.LIVE
    flagged = "cannot be" if draw(rarely) else ""
    if freshness is Freshness.NEVER:
        return ProbeView(base.probe, freshness, flagged=flagged)
    value = base.value
    if base.probe.quantity.is_temperature and draw(rarely) and value is not None:
        value += draw(st.floats(-6, 6))
    return replace(base, freshness=freshness, flagged=flagged, value=value, age_s=draw(st.floats(0, 1e6)))


@st.composite
def alarm(draw: st.DrawFn, subject: str) -> Alarm:
    return Alarm(
        draw(st.sampled_from(("temperature-high", "probe-silent", "stalled"))),
        subject,
        draw(st.sampled_from(Condition)),
        draw(st.sampled_from(Severity)),
        raised_at=NOW,
        acknowledged_at=draw(st.sampled_from((None, NOW))),
        occurrence=1,
        shelved_until=draw(st.sampled_from((None, NOW + timedelta(hours=1)))),
        out_of_service=draw(st.booleans()),
        statement="something is so",
    )


@st.composite
def lane(draw: st.DrawFn) -> Lane:
    base = healthy(judged=draw(st.booleans()))
    slug = draw(st.sampled_from(("left", "middle", "right")))
    views = tuple(draw(view(one)) for one in base.probes[: draw(st.integers(0, 4))])
    alarms = (draw(alarm(f"vessel:{slug}")),) if draw(rarely) else ()
    base = replace(base, beer_curve=(), gravity_curve=())
    batch = None if draw(rarely) else base.batch
    return replace(base, vessel=replace(base.vessel, slug=slug), batch=batch, probes=views, alarms=alarms)


@st.composite
def snapshots(draw: st.DrawFn) -> Snapshot:
    lanes = tuple(draw(st.lists(lane(), max_size=3)))
    sources = [replace(source(), name=name) for name in draw(st.sampled_from(((), ("a",), ("a", "b"))))]
    sources = [replace(one, state=draw(st.sampled_from(SourceState))) if draw(rarely) else one for one in sources]
    of_site = (draw(alarm("source:a")),) if draw(rarely) else ()
    status = replace(
        watcher(),
        trouble="the disk is full" if draw(rarely) else "",
        stopped=draw(rarely),
        beat_at=NOW - timedelta(seconds=draw(st.integers(0, 60 if draw(rarely) else 20))),
        last_commit_at=None if draw(rarely) else NOW,
        refused_configuration="no such key" if draw(rarely) else "",
        beat_every_s=300.0 if draw(rarely) else 5.0,
    )
    bottles = tuple(
        replace(in_package(name, 3), alarms=(draw(alarm(f"batch:{name}")),) if draw(rarely) else ())
        for name in draw(st.sampled_from(((), ("amber",))))
    )
    of_lanes, of_bottles = (
        [one for each in lanes for one in each.alarms],
        [one for each in bottles for one in each.alarms],
    )
    alarms = (*of_lanes, *of_bottles, *of_site)
    watched_by = None if draw(rarely) else status
    misread = (Misread("alarm", "a b", "it is odd", newer=draw(st.booleans())),) if draw(rarely) else ()
    stores = tuple(draw(view(healthy().probes[0])) for _ in bottles)
    return Snapshot(
        "home",
        "UTC",
        NOW,
        NOW,
        watched_by,
        lanes,
        alarms,
        tuple(sources),
        in_package=bottles,
        stores=stores,
        lease_held=not draw(rarely),
        misread=misread,
    )


def nothing_wrong(shown: Snapshot) -> bool:
    """Everything that must hold for a cellar to be well, as a person would go through it."""
    status = shown.watcher
    if status is None or status.stopped or status.trouble:
        return False
    if status.last_commit_at is None and any(lane.probes for lane in shown.lanes):
        return False
    seldom = status.beat_every_s > 60 and shown.lease_held
    silent_s = (NOW - status.beat_at).total_seconds()
    if silent_s > (750 if seldom else 30) or not shown.lanes:
        return False
    if shown.lease_held and silent_s > 2 * status.beat_every_s + 2:
        return False
    if status.refused_configuration:
        return False
    if shown.misread or any(one.state is not SourceState.CONNECTED for one in shown.sources):
        return False
    if any(one.stands or one.needs_attention for one in shown.alarms):
        return False
    probes = [*(one for each in shown.lanes for one in each.probes), *shown.stores]
    return all(one.freshness is Freshness.LIVE and not one.flagged for one in probes) and all(
        map(beer_in_range, shown.lanes)
    )


def beer_in_range(lane: Lane) -> bool:
    """Within the yeast's range to the tenth that is shown; and something is known of a beer that is there."""
    if lane.batch is None:
        return True
    if not lane.probes:
        return False
    beer = lane.probes[0].value
    return beer is not None and 16.95 <= beer <= 21.05


@given(snapshots())
def test_all_well_means_that_nothing_is_wrong(shown: Snapshot) -> None:
    if headline(shown, VOICE).level is Urgency.WELL:
        assert nothing_wrong(shown)
        assert not list(truths(shown, VOICE))


@given(snapshots())
def test_nothing_wrong_but_within_a_tenth_is_told_as_well(shown: Snapshot) -> None:
    if nothing_wrong(shown):
        assert headline(shown, VOICE).text == "all well"


@given(snapshots())
def test_screen_text_and_program_have_one_headline(shown: Snapshot) -> None:
    worst = headline(shown, VOICE)
    assert status_json(shown)["headline"] == {"level": worst.level, "matter": worst.matter, "text": worst.text}
    first = "".join(span.text for span in overview(shown, Sheet(200, 40), 0).lines[0])
    assert worst.text in first
    assert f"home: {worst.text[:1].upper()}{worst.text[1:]}" in status_text(shown, 200).splitlines()[0]
