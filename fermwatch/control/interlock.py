"""What outputs may be on, whoever wishes it: a compressor's rest, run and starts, and heat never together with cool.

Times are seconds of a clock that is never set, of this process alone. What happened before it is not known, and what is
not known counts as just switched off.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from fermwatch.model.degree import Output

HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Times:
    """What a compressor and the two outputs need of each other.

    rest_s: pressures equalise in 3 to 5 minutes; run_s and starts_an_hour: common practice. lockout_s: between heat and
    cool, in both directions.
    """

    rest_s: float = 300.0
    run_s: float = 180.0
    starts_an_hour: int = 4
    lockout_s: float = 1800.0


@dataclass(frozen=True, slots=True)
class Outputs:
    """What the outputs of one device did so far, as far as it is known.

    has: the outputs that there are. starts_s: when the compressor started, on this clock (negative where before its
    beginning, as a journal tells); those of the last hour count. known_s: since when they are looked at; None until
    then, as at a start or when the device is out of sight. since_s: when each changed since then.
    """

    has: frozenset[Output]
    starts_s: tuple[float, ...] = ()
    known_s: float | None = None
    on: frozenset[Output] = frozenset()
    since_s: Mapping[Output, float] = field(default_factory=dict)

    def unchanged_s(self, output: Output, now_s: float) -> float:
        """For how long it has not changed; where that is not known, it did so when we began to look."""
        return 0.0 if self.known_s is None else now_s - self.since_s.get(output, self.known_s)

    def seen(self, on: frozenset[Output], now_s: float) -> "Outputs":
        """With what the device shows, or is told, to be on now: a start that nobody here asked for counts as well."""
        changed = self.on ^ on
        starts_s = tuple(start_s for start_s in self.starts_s if now_s - start_s < HOUR_S)
        if Output.COOL in changed and Output.COOL in on:
            starts_s = (*starts_s, now_s)
        return replace(
            self,
            starts_s=starts_s,
            known_s=now_s if self.known_s is None else self.known_s,
            on=on,
            since_s={**self.since_s, **dict.fromkeys(changed, now_s)},
        )

    def lost(self) -> "Outputs":
        """With the device out of sight: it may switch until it is seen again, but the starts that were seen count."""
        return Outputs(self.has, self.starts_s)


@dataclass(frozen=True, slots=True)
class Permitted:
    """What may be on now, and why that is not what was wished: one sentence for each output."""

    on: frozenset[Output]
    why: Mapping[Output, str] = field(default_factory=dict)


def permit(wish: frozenset[Output], outputs: Outputs, now_s: float, times: Times) -> Permitted:
    """What may be on of what is wished, for outputs that were looked at just now: a device may have dropped one itself.

    To drop everything at once, for a fault or a person, nobody asks here.
    """
    both = len(wish) > 1
    on: set[Output] = set()
    why: dict[Output, str] = dict.fromkeys(wish, "Heat and cool were both wished: neither is meant.") if both else {}
    for output in Output:
        running = output in outputs.on
        if output in wish and not both:
            reason = "" if running else _why_not(output, outputs, now_s, times)
            if reason:
                why[output] = reason
            else:
                on.add(output)
        elif running and output is Output.COOL and outputs.unchanged_s(output, now_s) < times.run_s:
            on.add(output)
            why[output] = f"A compressor that has started runs at least {times.run_s:.0f} s."
    if len(on) > 1:  # only a device that had both on itself brings us here
        return Permitted(frozenset(), dict.fromkeys(Output, "Heat and cool are both on: both are dropped."))
    return Permitted(frozenset(on), why)


def _why_not(output: Output, outputs: Outputs, now_s: float, times: Times) -> str:
    """Why this output may not be switched on now; empty where it may."""
    if output not in outputs.has:
        return f"The controller has no {output}."
    if outputs.known_s is None:
        return "The controller has not shown its outputs yet."
    other = Output.HEAT if output is Output.COOL else Output.COOL
    if other in outputs.on:
        return f"The {other} is on."
    if other in outputs.has and outputs.unchanged_s(other, now_s) < times.lockout_s:
        return f"The {other} was on, or may have been, within {times.lockout_s / 60:.0f} min."
    if output is not Output.COOL:
        return ""
    if outputs.unchanged_s(Output.COOL, now_s) < times.rest_s:
        return f"A compressor rests {times.rest_s:.0f} s before it starts again."
    if sum(now_s - start_s < HOUR_S for start_s in outputs.starts_s) >= times.starts_an_hour:
        return f"The compressor started {times.starts_an_hour} times within the hour."
    return ""
