"""What a beer is asked for before it may be packaged, each point in one line: met, or what would meet it."""

import re
from dataclasses import dataclass

from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Verdict
from fermwatch.saying.judged import LONGEST_VERDICT
from fermwatch.saying.voice import Voice

# By the names that the judgement gives its gates.
_ASKED = {
    "still": "gravity stands still",
    "attenuation": "as far down as its yeast goes",
    "original gravity": "an original gravity to reckon from",
    "warm": "warm enough, for long enough",
    "warm rest": "a warm rest",
    "hydrometer reading": "a fresh hydrometer reading",
    "readings by hand": "readings by hand that agree",
    "no stall behind it": "further down than where it stalled",
    "after dry hops": "nothing more after the dry hops",
    "slow sugars": "no slow sugars at work",
    "yeast": "a yeast that can be judged",
    "package": "a package that holds it",
}
_WAIT = re.compile(r"^wait: ", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Point:
    """mark: met, not met, was met. because: with its numbers, for whoever asks why."""

    met: bool
    mark: str
    text: str
    because: str


def points_of(verdict: Verdict, voice: Voice) -> list[Point]:
    """The most telling first. What the verdict's sentence or its next step says already is not said again."""
    told = voice.text(f"{verdict.sentence} {verdict.next_steps}", LONGEST_VERDICT).casefold()
    unmet = "was met" if verdict.kind is VerdictKind.SAFE else "not met"
    points = []
    for one in verdict.evidence:
        what = _ASKED.get(one.name, voice.text(one.name))
        remedy = voice.text(one.remedy)
        said = not remedy or _WAIT.sub("", remedy).rstrip(".").casefold() in told
        text = what if one.met or said or verdict.kind is VerdictKind.SAFE else f"{what}: {_lowered(remedy)}"
        points.append(Point(one.met, "met" if one.met else unmet, text, voice.text(one.statement)))
    return points


def _lowered(text: str) -> str:
    """As it goes on after a colon; what is a sentence or two stays as it is."""
    return text if ". " in text.rstrip(".") else f"{text[:1].lower()}{text[1:]}".rstrip(".")
