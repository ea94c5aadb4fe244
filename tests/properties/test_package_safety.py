"""`safe` never stands beside more pressure than the package may hold where it is judged."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch.judgement.filling import packed
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import KegWay, PackageChoice
from fermwatch.model.warmest import warmest_of
from fermwatch.science.packages import PACKAGES
from tests.unit.judgement.beer import ALE, a_batch, at, brewed, fermenting

DAY_H = 24.0
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
