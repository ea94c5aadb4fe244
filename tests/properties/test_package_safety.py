"""`safe` never stands beside more pressure than the package may hold where it is judged."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fermwatch.judgement.filling import packed
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import KegWay, PackageChoice
from fermwatch.model.warmest import warmest_of
from fermwatch.science.packages import PACKAGES
from fermwatch.science.pressure_risk import Bottle
from tests.support.command_line import CommandLine, command_line
from tests.support.finished_beer import ALE as OPEN
from tests.support.finished_beer import PITCHED, finish
from tests.unit.judgement.beer import ALE, a_batch, at, brewed, fermenting

DAY_H = 24.0


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> CommandLine:
    """Over a finished beer; asking changes nothing in the store."""
    desk = command_line(tmp_path / "store", PITCHED, capsys)
    desk.done(*OPEN, "--yes")
    finish(desk)
    return desk


ACCEPTED = [kind.slug for kind in PACKAGES.values() if not kind.refused]
BELOW = st.floats(-2.0, 40.0)
CHOICES = st.builds(
    PackageChoice,
    kind=st.sampled_from(ACCEPTED),
    volumes=st.floats(0.0, 6.0),
    storage_c=BELOW,
    limit_bar=st.none() | st.floats(0.5, 12.0),
    conditioning_c=st.none() | BELOW,
    accident_c=BELOW,
    way=st.none(),
)
KEGS = st.builds(
    replace,
    st.builds(PackageChoice, kind=st.just("keg"), volumes=st.floats(0.0, 6.0), storage_c=BELOW),
    limit_bar=st.none() | st.floats(0.5, 12.0),
    conditioning_c=st.none() | BELOW,
    way=st.sampled_from(KegWay),
)


def judged(choice: PackageChoice, days: float = 14.0) -> Judge:
    """A beer that is finished for long and well measured: only the package can be wrong."""
    judge = brewed(fermenting(), days, batch=a_batch(package=choice), read_at=(11.5 * DAY_H, 13.0 * DAY_H))
    judge.judge(at(days * DAY_H))
    return judge


def is_safe(judge: Judge, hour: float) -> bool:
    verdict = judge.judge(at(hour)).verdict
    return verdict is not None and verdict.kind == "safe"


@settings(max_examples=60, deadline=None)
@given(CHOICES | KEGS)
def test_what_is_safe_stays_below_its_limit_at_the_warmest_of_all(choice: PackageChoice) -> None:
    if not is_safe(judged(choice), 14.0 * DAY_H):
        return
    warmest = warmest_of(choice, ALE)
    bottle = packed(choice, warmest)
    assert bottle.pressure_bar_gauge(choice.volumes) < bottle.limit_bar_gauge
    if not choice.forced:
        assert warmest.temperature_c >= max(choice.storage_c, choice.accident_c, choice.conditioning_c or 17.0)


@settings(max_examples=12, deadline=None)
@given(st.floats(2.6, 3.6), st.floats(-1.0, 32.0), st.floats(9.0, 12.0), st.floats(0.0, 1.5))
def test_no_hour_of_a_story_is_safe_beside_a_package_that_is_not(
    volumes: float, later_c: float, days: float, creep: float
) -> None:
    """Near the limit, through crashes and heat after it was declared safe, and a creep that begins again."""
    settled = fermenting()

    def gravity(hour: float) -> float:
        return settled(hour) - creep * max(hour - days * DAY_H, 0.0) / DAY_H

    def celsius(hour: float) -> float:
        return 20.0 if hour < days * DAY_H else later_c

    choice = PackageChoice("returnable-glass", volumes, 4.0)
    reads = (7.0 * DAY_H, 8.5 * DAY_H)
    judge = brewed(gravity, 16.0, batch=a_batch(package=choice), read_at=reads, temperature_c=celsius)
    for hour in np.arange(6.0 * DAY_H, 16.0 * DAY_H, 3.0):
        verdict = judge.judge(at(float(hour))).verdict
        if verdict is not None and verdict.kind == "safe":
            assert [one.met for one in verdict.evidence if one.name == "package"] == [True]


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(ACCEPTED[:5]), st.floats(0.0, 6.0), BELOW, BELOW)
def test_no_cooler_store_makes_a_bottle_safe_that_was_not(
    kind: str, volumes: float, one_c: float, other_c: float
) -> None:
    cold, warm = (PackageChoice(kind, volumes, celsius) for celsius in sorted((one_c, other_c)))
    if is_safe(judged(warm), 14.0 * DAY_H):
        assert is_safe(judged(cold), 14.0 * DAY_H)
    if warm.storage_c <= 25.0:
        assert is_safe(judged(cold), 14.0 * DAY_H) is is_safe(judged(warm), 14.0 * DAY_H)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.sampled_from([*PACKAGES, "mug"]),
    st.floats(0.0, 6.0),
    st.floats(-2.0, 40.0),
    st.none() | st.floats(-2.0, 40.0),
    st.none() | st.sampled_from(KegWay),
)
def test_the_command_exits_with_zero_for_what_holds_alone(
    desk: CommandLine, kind: str, volumes: float, storage_c: float, accident_c: float | None, way: KegWay | None
) -> None:
    words = ["bottle", "left", "--package", kind, "--volumes", f"{volumes:.2f}", "--storage", f"{storage_c:.1f}C"]
    words += [] if accident_c is None else ["--accident", f"{accident_c:.1f}C"]
    words += [] if way is None else ["--way", way]
    said = desk.type(*words)
    if said.status:
        return
    accident = 25.0 if accident_c is None else accident_c
    judged_c = round(storage_c, 1) if way is KegWay.FORCED or (kind == "keg" and way is None) else None
    judged_c = max(round(storage_c, 1), round(accident, 1), 20.0) if judged_c is None else judged_c
    bottle = Bottle(PACKAGES[kind].limit_bar_gauge or 0.0, judged_c, air=kind != "keg")
    assert bottle.pressure_bar_gauge(round(volumes, 2)) < bottle.limit_bar_gauge
