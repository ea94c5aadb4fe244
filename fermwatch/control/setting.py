"""Writing a set point: only on change, read back twice, at most three tries, and sparing a memory that wears out."""

from dataclasses import dataclass, replace

from fermwatch.contracts.controller import SetPointAbility

TRIES = 3
READ_BACKS = 2
DAY_S = 86_400.0
MEMORY_DAYS = 5 * 365  # for which the memory should last at least


@dataclass(frozen=True, slots=True)
class Setting:
    """What is being written, and how it goes.

    target_c: as last wished, in the device's steps. tries: writes of it so far. agreed, differed: read-backs in a row
    since the last write. turned: it stood there, and shows another since: somebody turned it, or it forgot. written_s:
    all writes of the last day on the caller's clock, also those of a journal.
    """

    target_c: float | None = None
    tries: int = 0
    agreed: int = 0
    differed: int = 0
    turned: bool = False
    written_s: tuple[float, ...] = ()

    @property
    def confirmed(self) -> bool:
        return self.agreed >= READ_BACKS

    @property
    def given_up(self) -> bool:
        """It was written as often as is sensible, and the device still shows another: a person must look."""
        return self.tries >= TRIES and self.differed >= READ_BACKS


def writes_a_day(ability: SetPointAbility) -> int | None:
    """How many writes a day its memory endures for years, at least one; None where nothing wears out."""
    return None if ability.writes is None else max(1, ability.writes // MEMORY_DAYS)


def step(
    setting: Setting, wish_c: float, shown_c: float | None, now_s: float, ability: SetPointAbility
) -> tuple[Setting, bool]:
    """The setting after one reading of the device, and whether `target_c` is to be written now.

    wish_c: within the limits already. shown_c: the set point as just read; None where it is not known, which writes
    nothing.
    """
    target_c = round(wish_c / ability.step_c) * ability.step_c
    recent_s = tuple(at_s for at_s in setting.written_s if now_s - at_s < DAY_S)
    same = setting.target_c is not None and abs(setting.target_c - target_c) < ability.step_c / 2
    setting = replace(setting, written_s=recent_s) if same else Setting(target_c, written_s=recent_s)
    if shown_c is None:
        return setting, False
    if abs(shown_c - target_c) < ability.step_c / 2:
        return replace(setting, agreed=setting.agreed + 1, differed=0), False
    turned = setting.turned or setting.agreed > 0
    setting = replace(setting, agreed=0, differed=setting.differed + 1, turned=turned)
    spent = (budget := writes_a_day(ability)) is not None and len(recent_s) >= budget
    waits = setting.tries > 0 and setting.differed < READ_BACKS
    if spent or waits or setting.tries >= TRIES:
        return setting, False
    return replace(setting, tries=setting.tries + 1, differed=0, written_s=(*recent_s, now_s)), True
