"""Why a broker let go of us."""

import ssl

import aiomqtt
import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from fermwatch.errors import ProbeRefused, ProbeUnavailable
from fermwatch_drivers.mqtt.dialling import explain_tls
from fermwatch_drivers.mqtt.options import MqttOptions
from fermwatch_drivers.mqtt.refusals import Losses

OPTIONS = MqttOptions(host="cellar.example", topic="cellar/{fermenter}")


def taken_over() -> aiomqtt.MqttError:
    return aiomqtt.MqttCodeError(ReasonCode(PacketTypes.DISCONNECT, "Session taken over"))


def test_a_client_id_that_is_fought_over_becomes_a_persons_job() -> None:
    losses = Losses()
    told = [losses.explain(taken_over(), OPTIONS, "fermwatch-x", 30.0 * turn) for turn in range(4)]
    assert [type(error) for error in told] == [*[ProbeUnavailable] * 3, ProbeRefused]
    assert all('"fermwatch-x"' in str(error) and "client_id" in str(error) for error in told)


def test_a_client_id_taken_now_and_then_comes_back_by_itself() -> None:
    losses = Losses()
    told = [losses.explain(taken_over(), OPTIONS, "x", 200.0 * turn) for turn in range(10)]
    assert {type(error) for error in told} == {ProbeUnavailable}


def test_without_reasons_many_losses_in_a_row_point_at_the_client_id() -> None:
    losses = Losses()
    told = [losses.explain(None, OPTIONS, "x", 10.0 * turn) for turn in range(5)]
    assert "client id" not in str(told[0])
    assert "another program uses our client id" in str(told[-1])
    assert type(told[-1]) is ProbeUnavailable


@pytest.mark.parametrize(
    ("code", "kind", "says"),
    [
        (9, ProbeUnavailable, "clock"),
        (10, ProbeUnavailable, "clock"),
        (62, ProbeRefused, "another name"),
        (19, ProbeRefused, "ca_file"),
    ],
)
def test_each_fault_of_a_certificate_has_its_own_remedy(code: int, kind: type[Exception], says: str) -> None:
    error = ssl.SSLCertVerificationError(1, "certificate verify failed")
    error.verify_code, error.verify_message = code, "verify message"
    told = explain_tls(error, OPTIONS)
    assert type(told) is kind
    assert says in str(told)
