"""Whatever the air does: the compressor gets its rest, its run, and at most four starts an hour."""

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch_sim.thermal import Air, AirController, Body, Cabinet, Compressor, step_air

temperatures = st.floats(-20.0, 50.0)


@settings(max_examples=200, deadline=None)
@given(
    minutes=st.lists(st.tuples(temperatures, temperatures, st.floats(0.0, 30.0)), max_size=200),
    dt_s=st.floats(1.0, 240.0),
)
def test_the_compressor_never_short_cycles(minutes: list[tuple[float, float, float]], dt_s: float) -> None:
    compressor, switched, elapsed_s = Compressor(), [(0.0, False)], 0.0
    for air_c, beer_c, set_point_c in minutes:
        elapsed_s += dt_s
        before = compressor.running
        compressor = AirController(set_point_c).decide(compressor, air_c=air_c, beer_c=beer_c, dt_s=dt_s)
        if compressor.running is not before:
            switched.append((elapsed_s, compressor.running))
    for (earlier_s, running), (later_s, _) in pairwise(switched):
        assert later_s - earlier_s >= (180.0 if running else 300.0) - 1e-6
    starts = [at_s for at_s, running in switched if running]
    assert all(later - earlier >= 900.0 - 1e-6 for earlier, later in pairwise(starts))


@settings(max_examples=200, deadline=None)
@given(
    air=st.builds(Air, temperatures, temperatures),
    bodies=st.lists(st.builds(Body, temperatures, st.floats(0.1, 20.0)), max_size=6),
    room_c=temperatures,
    door_open=st.booleans(),
    dt_s=st.floats(1.0, 900.0),
)
def test_without_cooling_air_stays_between_what_touches_it(
    air: Air, bodies: list[Body], room_c: float, door_open: bool, dt_s: float
) -> None:
    touching = [air.air_c, air.plate_c, room_c, *(body.temperature_c for body in bodies)]
    after = step_air(Cabinet(), air, bodies, room_c=room_c, cooling=False, door_open=door_open, dt_s=dt_s)
    assert min(touching) - 1e-9 <= after.air_c <= max(touching) + 1e-9
    cooled = step_air(Cabinet(), air, bodies, room_c=room_c, cooling=True, door_open=door_open, dt_s=dt_s)
    assert cooled.plate_c < after.plate_c
