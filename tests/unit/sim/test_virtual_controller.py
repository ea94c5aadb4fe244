"""The invented controller: its registers, its dead-man, and that it regulates a fridge."""

import random

import pytest

from fermwatch.model.degree import Output
from fermwatch_sim.fridge import Fridge
from fermwatch_sim.thermal import AirController
from fermwatch_sim.virtual_controller import (
    LONGEST_LEASE_S,
    SET_POINT_AT,
    WISH_AT,
    Complaint,
    Mode,
    VirtualController,
)

COOL, HEAT = frozenset({Output.COOL}), frozenset({Output.HEAT})


def commanded() -> VirtualController:
    return VirtualController(mode=Mode.BY_COMMAND)


def test_what_is_leased_is_on_until_then_and_not_a_moment_longer() -> None:
    controller = commanded()
    assert controller.write(WISH_AT, [1, 30], 100.0) is None
    assert controller.on(129.9) == COOL
    assert controller.on(130.0) == frozenset()
    assert controller.discrete_inputs(130.0)[2], "it says that it dropped it"
    assert controller.switched == [(100.0, COOL), (130.0, frozenset())]


def test_a_renewed_lease_goes_on_and_a_late_one_starts_anew() -> None:
    controller = commanded()
    controller.write(WISH_AT, [2, 30], 0.0)
    controller.write(WISH_AT, [2, 30], 20.0)
    assert controller.on(49.0) == HEAT
    controller.write(WISH_AT, [2, 30], 60.0)
    assert controller.switched == [(0.0, HEAT), (50.0, frozenset()), (60.0, HEAT)]
    assert not controller.discrete_inputs(60.0)[2]


@pytest.mark.parametrize(
    ("address", "words", "why"),
    [
        (WISH_AT, [3, 30], Complaint.ILLEGAL_VALUE),  # heat and cool together
        (WISH_AT, [4, 30], Complaint.ILLEGAL_VALUE),
        (WISH_AT, [1, LONGEST_LEASE_S + 1], Complaint.ILLEGAL_VALUE),
        (WISH_AT, [1], Complaint.ILLEGAL_ADDRESS),  # without a lease
        (SET_POINT_AT, [351], Complaint.ILLEGAL_VALUE),
        (SET_POINT_AT, [0x10000 - 51], Complaint.ILLEGAL_VALUE),
        (11, [1], Complaint.ILLEGAL_ADDRESS),
    ],
)
def test_what_makes_no_sense_is_refused_whole(address: int, words: list[int], why: Complaint) -> None:
    controller = commanded()
    controller.write(WISH_AT, [1, 60], 0.0)
    before = controller.holding_registers()
    assert controller.write(address, words, 1.0) is why
    assert (controller.holding_registers(), controller.on(1.0)) == (before, COOL)


def test_who_regulates_by_itself_takes_a_set_point_and_no_command() -> None:
    controller = VirtualController()
    assert controller.write(WISH_AT, [1, 30], 0.0) is Complaint.ILLEGAL_VALUE
    assert controller.write(SET_POINT_AT, [0x10000 - 15], 0.0) is None
    assert (controller.set_point_c, controller.set_point_writes) == (-1.5, 1)
    assert controller.holding_registers()[SET_POINT_AT] == 0x10000 - 15


def test_a_broken_probe_shows_its_sentinel_and_its_alarm() -> None:
    controller = VirtualController(measured_c=-0.4)
    assert controller.input_registers(0.0)[1] == 0x10000 - 4
    controller.probe_broken, controller.door_open = True, True
    assert controller.input_registers(0.0)[1] == 32767
    assert controller.discrete_inputs(0.0) == (True, True, False)


@pytest.mark.parametrize(("room_c", "expected"), [(24.0, Output.COOL), (8.0, Output.HEAT)])
def test_it_holds_the_beer_in_a_warm_room_and_in_a_cold_one(room_c: float, expected: Output) -> None:
    fridge, controller = Fridge.at(20.0), VirtualController(regulator=AirController(18.0))
    fridge.room_c = room_c
    off = []
    for minute in range(6 * 24 * 60):
        on = controller.step(minute * 60.0, air_c=fridge.air.air_c, beer_c=fridge.beer_c, dt_s=60.0)
        fridge.step(on, 60.0)
        off.append(abs(fridge.beer_c - 18.0))
    assert max(off[-24 * 60 :]) < 0.6
    assert expected in {output for _, on in controller.switched for output in on}
    assert all(on != COOL | HEAT for _, on in controller.switched)


def test_whatever_is_commanded_nothing_is_on_beyond_its_lease() -> None:
    chance, controller, now_s = random.Random(3), commanded(), 0.0
    for _ in range(5_000):
        now_s += chance.choice([0.1, 1.0, 20.0, 200.0])
        lease_s = chance.randint(0, 150)
        taken = controller.write(WISH_AT, [chance.randint(0, 4), lease_s], now_s) is None
        ends_s = controller.leased_until_s
        assert not taken or ends_s == now_s + lease_s
        assert controller.on(now_s + 1e6 if chance.random() < 0.1 else ends_s) == frozenset()
        now_s = max(now_s, ends_s)
    stretches = zip(controller.switched, controller.switched[1:], strict=False)
    assert all(later - since <= LONGEST_LEASE_S or not on for (since, on), (later, _) in stretches)
