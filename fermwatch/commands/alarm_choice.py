"""Which alarm a person means by a rule's name and a fermenter, probe, source or batch."""

from fermwatch.commands.site import Site
from fermwatch.errors import InputError
from fermwatch.model.finding import Alarm
from fermwatch.model.subject import About, kind_of, name_of


def subjects_of(site: Site, where: str) -> set[str]:
    """Every subject that a word may stand for."""
    said = where.casefold()
    found = {said, where}
    for batch in site.reader.batches(ended=True):
        if said in {batch.vessel.casefold(), batch.name.casefold()} or batch.id.casefold().startswith(said):
            found.add(About.BATCH.of(batch.id))
    return found


def _slug(alarm: Alarm) -> str:
    return name_of(alarm.subject).casefold()


def choose(site: Site, rule: str, where: str | None, *, seen_too: bool) -> Alarm:
    """The one alarm meant. InputError, naming those there are, where none or several are."""
    known = [alarm for alarm in site.reader.alarms() if alarm.occurrence > 0]
    found = [alarm for alarm in known if alarm.rule == rule]
    if where is not None:
        wanted = subjects_of(site, where)
        found = [alarm for alarm in found if {alarm.subject, alarm.subject.casefold(), _slug(alarm)} & wanted]
    if not seen_too and len(found) > 1:
        found = [alarm for alarm in found if alarm.acknowledged_at is None] or found
    if len(found) == 1:
        return found[0]
    listed = ", ".join(f"{alarm.rule} {named(site, alarm.subject)}" for alarm in (found or known)[:8])
    hint = f"There is: {listed}." if listed else "No alarm has been raised yet."
    what = "Several alarms are meant" if found else "There is no such alarm"
    raise InputError(f"{what}: {rule}{f' {where}' if where else ''}.", hint=hint)


def named(site: Site, subject: str) -> str:
    """A subject as a person would type it: a batch by its fermenter while it is in one, then by its name."""
    slug = name_of(subject)
    if kind_of(subject) != About.BATCH:
        return slug
    batch = next((one for one in site.reader.batches(ended=True) if one.id == slug), None)
    if batch is None:
        return slug
    return batch.vessel if batch.in_fermenter else batch.name if batch.in_package else batch.id
