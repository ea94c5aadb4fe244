"""What people do to an alarm by its name."""

from fermwatch.errors import RequestRefused
from fermwatch.model import attention
from fermwatch.model.finding import Alarm
from fermwatch.requests import shapes
from fermwatch.requests.checks import check_alarm_name
from fermwatch.requests.ledger import Done, Ledger, Who


def acknowledge(ledger: Ledger, asked: shapes.Acknowledging, who: Who) -> Done:
    alarm = _known_alarm(ledger, asked.rule, asked.subject)
    ledger.keep_alarm(attention.acknowledge(alarm, who.user, who.now))
    return Done(alarm.subject, f"{who.user} acknowledged {alarm.rule}.")


def shelve(ledger: Ledger, asked: shapes.Shelving, who: Who) -> Done:
    alarm = _known_alarm(ledger, asked.rule, asked.subject)
    ledger.keep_alarm(attention.shelve(alarm, asked.until, who.user, who.now))
    return Done(alarm.subject, f"{who.user} shelved {alarm.rule} until {asked.until:%Y-%m-%d %H:%M} UTC.")


def unshelve(ledger: Ledger, asked: shapes.Unshelving, who: Who) -> Done:
    alarm = _known_alarm(ledger, asked.rule, asked.subject)
    ledger.keep_alarm(attention.unshelve(alarm))
    return Done(alarm.subject, f"{who.user} took {alarm.rule} off the shelf.")


def serve(ledger: Ledger, asked: shapes.Service, who: Who) -> Done:
    """Out of service, or back; also before it ever alarmed."""
    check_alarm_name(asked.rule, asked.subject)
    alarm = ledger.alarm(asked.rule, asked.subject) or Alarm(asked.rule, asked.subject)
    if alarm.out_of_service == asked.out:
        raise RequestRefused(f"{alarm.rule} of {alarm.subject} is {'out of' if asked.out else 'in'} service already.")
    ledger.keep_alarm(attention.set_service(alarm, who.user, who.now, out=asked.out))
    where = "out of service" if asked.out else "back into service"
    return Done(alarm.subject, f"{who.user} took {alarm.rule} {where}.")


def _known_alarm(ledger: Ledger, rule: str, subject: str) -> Alarm:
    check_alarm_name(rule, subject)
    alarm = ledger.alarm(rule, subject)
    if alarm is None:
        raise RequestRefused(f"There is no alarm {rule} of {subject}.")
    return alarm
