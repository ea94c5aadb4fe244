"""Nonsense in a log may be judged wrongly, but it never stops the judging."""

from datetime import timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch.model.batch import Batch, EventKind, GravityOrigin, PackageChoice
from fermwatch.model.yeast import Yeast
from fermwatch.replay import replay
from fermwatch.replay_input import GRAVITY, TEMPERATURE, Row
from tests.unit.judgement.beer import ALE, LAGER, PITCHED, RETURNABLE, SAISON, event

YEASTS = (ALE, LAGER, SAISON, Yeast("x", "x", 20, 20, 0.0, 1.0), Yeast("x", "x", 5, 35, 0.75, 0.75))
PACKAGES = (None, RETURNABLE, PackageChoice("keg", 0.0, 0.0), PackageChoice("one-way-glass", 6.0, 40.0))
VALUES = {
    ("G1", GRAVITY): (1.05, 1.01, 0.9, 2.0, 1.03),
    ("G2", GRAVITY): (1.0,),
    ("T1", TEMPERATURE): (85.0, -127.0, 20.0, 2.0, -5.0, 40.0, 18.3),
    ("hydrometer", GRAVITY): (1.05, 1.01, 1.2, 0.99),
}


def nonsense(random: np.random.Generator) -> list[Row]:
    rows, hour = [], -3.0
    for _ in range(int(random.integers(0, 300))):
        hour += float(random.choice([0.0, 0.25, 1.0, 6.0]))
        probe, quantity = list(VALUES)[int(random.choice(4, p=[0.4, 0.1, 0.4, 0.1]))]
        late = float(random.uniform(0.0, 60.0)) if random.random() < 0.1 else 0.0
        value = float(random.choice(VALUES[probe, quantity]))
        rows.append(Row(PITCHED + timedelta(hours=hour - late), probe, quantity, value))
    return rows


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000))
def test_nonsense_never_stops_a_replay(seed: int) -> None:
    random = np.random.default_rng(seed)
    batch = Batch(
        "b",
        "b",
        "v",
        float(random.choice([1.005, 1.05, 1.2])),
        PITCHED,
        float(random.choice([0.1, 20.0])),
        YEASTS[seed % len(YEASTS)],
        list(GravityOrigin)[seed % 3],
        package=PACKAGES[seed % len(PACKAGES)],
        extract_adjuncts_g_per_l={"lactose": 500.0} if seed % 3 == 0 else {},
    )
    events = [
        event(float(random.uniform(0, 300)), kind, grams=float(random.choice([0, 50, 5000])), gravity_sg=1.01)
        for kind in EventKind
        if random.random() < 0.3
    ]
    told = list(replay(nonsense(random), batch, events))
    assert told[-1]["event"] == "end"
    assert [line["at"] for line in told] == sorted(line["at"] for line in told)
