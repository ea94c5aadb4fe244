"""Which message is a second delivery, and whom its acknowledgement reaches."""

from collections.abc import Callable

from fermwatch_drivers.mqtt.pending import PendingMessages


class Connection:
    """Records what is acknowledged while it is up."""

    def __init__(self) -> None:
        self.up = True
        self.acknowledged: list[int] = []

    def acknowledge(self, packet_id: int) -> Callable[[], bool]:
        def tell() -> bool:
            if self.up:
                self.acknowledged.append(packet_id)
            return self.up

        return tell


def test_a_message_is_acknowledged_when_it_is_settled_and_not_before() -> None:
    pending, connection = PendingMessages(), Connection()
    message = pending.accept(1, "t", b"19", connection.acknowledge(1), redelivered=False, sources=["a"])
    assert message is not None
    assert (connection.acknowledged, pending.unsettled) == ([], 1)
    pending.settle([message], "a")
    pending.settle([message], "a")
    assert (connection.acknowledged, pending.unsettled) == ([1], 0)


def test_a_second_delivery_of_one_in_the_works_is_ignored_and_acknowledged_with_it() -> None:
    pending, first, second = PendingMessages(), Connection(), Connection()
    message = pending.accept(1, "t", b"19", first.acknowledge(1), redelivered=False, sources=["a"])
    first.up = False
    assert pending.accept(1, "t", b"19", second.acknowledge(1), redelivered=True, sources=["a"]) is None
    assert second.acknowledged == []
    assert message is not None
    pending.settle([message], "a")
    assert second.acknowledged == [1]


def test_one_settled_after_its_connection_had_gone_is_acknowledged_when_it_comes_again() -> None:
    pending, first, second = PendingMessages(), Connection(), Connection()
    message = pending.accept(1, "t", b"19", first.acknowledge(1), redelivered=False, sources=["a"])
    first.up = False
    assert message is not None
    pending.settle([message], "a")
    assert pending.accept(1, "t", b"19", second.acknowledge(1), redelivered=True, sources=["a"]) is None
    assert second.acknowledged == [1]


def test_anything_else_is_new() -> None:
    pending, connection = PendingMessages(), Connection()
    pending.accept(1, "t", b"19", connection.acknowledge(1), redelivered=False, sources=["a"])
    assert pending.accept(1, "t", b"19", connection.acknowledge(1), redelivered=False, sources=["a"]) is not None
    assert pending.accept(1, "t", b"20", connection.acknowledge(1), redelivered=True, sources=["a"]) is not None
    assert pending.accept(2, "t", b"20", connection.acknowledge(2), redelivered=True, sources=["a"]) is not None
    assert pending.accept(1, "u", b"20", connection.acknowledge(1), redelivered=True, sources=["a"]) is not None


def test_a_packet_id_used_anew_does_not_confuse_the_older_message() -> None:
    pending, connection = PendingMessages(), Connection()
    old = pending.accept(1, "t", b"19", connection.acknowledge(1), redelivered=False, sources=["a"])
    new = pending.accept(1, "t", b"20", connection.acknowledge(1), redelivered=False, sources=["a"])
    assert old is not None
    assert new is not None
    pending.settle([old], "a")
    assert pending.accept(1, "t", b"20", connection.acknowledge(1), redelivered=True, sources=["a"]) is None
    pending.settle([new], "a")
    assert pending.unsettled == 0


def test_a_message_of_two_sources_is_acknowledged_when_both_have_settled_it() -> None:
    pending, first, second = PendingMessages(), Connection(), Connection()
    message = pending.accept(1, "t", b"19", first.acknowledge(1), redelivered=False, sources=["a", "b"])
    assert message is not None
    pending.settle([message], "a")
    pending.settle([message], "a")
    assert (first.acknowledged, pending.unsettled) == ([], 1)
    first.up = False
    assert pending.accept(1, "t", b"19", second.acknowledge(1), redelivered=True, sources=["a", "b"]) is None
    pending.settle([message], "b")
    assert (second.acknowledged, pending.unsettled) == ([1], 0)
