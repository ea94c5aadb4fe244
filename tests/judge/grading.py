"""Grades the judging of simulated logs with the same script as the labelled ones, beside two rules of thumb."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from fermwatch.model.batch import Batch, PackageChoice
from fermwatch.model.yeast import Yeast
from fermwatch.replaying.input import Row
from fermwatch.replaying.replay import replay
from tests.judge.corpus import Log
from tests.reference.judgement import score

TWO_PROBE_H, TWO_HAND_H, AGREE_POINTS = 48.0, 44.0, 1.0


def batch_of(label: dict[str, Any]) -> Batch:
    """The batch as a brewer would have entered it."""
    kind = label["yeast"]
    yeast = Yeast(
        kind=kind["kind"],
        name=kind["kind"],
        temperature_low_c=kind["temp_min_C"],
        temperature_high_c=kind["temp_max_C"],
        attenuation_low=kind["attenuation_min"],
        attenuation_high=kind["attenuation_max"],
        lag_max_h=score.lag_max_h(label),
        diastatic=kind["diastatic"],
        bottom_fermenting=kind["kind"] == "lager",
    )
    package = PackageChoice("heavy-glass" if kind["diastatic"] else "returnable-glass", 2.4, 25.0)
    return Batch(
        id=label["file"],
        name=label["file"],
        vessel="simulated",
        original_sg=label["original_gravity_entered"],
        pitched_at=score.instant(label["pitch_time"]),
        volume_l=label["volume_l"],
        yeast=yeast,
        package=package,
    )


@dataclass
class Tally:
    """safe_h: when each way of judging first said safe, by log."""

    logs: int = 0
    decidable: int = 0
    rules: dict[str, Counter[str]] = field(default_factory=dict)
    asked: list[int] = field(default_factory=list)
    falling: int = 0

    def add(self, log: Log, told: list[dict[str, Any]]) -> None:
        truth = score.Truth(log.label)
        self.logs += 1
        self.decidable += bool(log.label["decidable"])
        ways = {
            "two probe readings 48 h apart": _first_agreeing(log, "G1", TWO_PROBE_H),
            "two hydrometer readings 44 h apart": _first_agreeing(log, "hydrometer", TWO_HAND_H),
            "fermwatch": next((e["hours"] for e in told if e["event"] == "verdict" and e["verdict"] == "safe"), None),
        }
        for way, hour in ways.items():
            counts = self.rules.setdefault(way, Counter())
            if hour is None or not log.label["decidable"]:
                continue
            counts["said"] += 1
            counts["false"] += truth.safe_from is None or hour < truth.safe_from
            counts["falling"] += truth.rate(hour) >= 0.5
        if ways["fermwatch"] is not None:
            said = ways["fermwatch"]
            self.asked.append(sum(row[1] == "hydrometer" and _hour(log, row[0]) <= said for row in log.rows))

    def lines(self) -> Iterator[str]:
        for way, counts in self.rules.items():
            share = counts["false"] / max(self.decidable, 1)
            yield (
                f"{way:<40} said safe in {counts['said']:>3} of {self.decidable}, false in {counts['false']:>3} "
                f"({share:.1%}), while falling 0.5 points a day or more in {counts['falling']}"
            )
        if self.asked:
            middle = sorted(self.asked)[len(self.asked) // 2]
            yield f"hydrometer readings until safe: median {middle}, most {max(self.asked)}"


def grade(logs: Iterable[Log], total: int) -> tuple[score.Score, Tally]:
    """Judge every log and count."""
    result, tally = score.Score(total), Tally()
    for log in logs:
        told = judged(log)
        result.add(log.label, told)
        tally.add(log, told)
    return result, tally


def judged(log: Log) -> list[dict[str, Any]]:
    """What is said of this log, as the grading script reads it."""
    pitched = score.instant(log.label["pitch_time"])
    rows = (Row(*row) for row in log.rows)
    told = []
    for event in replay(rows, batch_of(log.label)):
        read = dict(event)
        read["hours"] = score.hours_since(pitched, read["at"])
        for key in ("done_at", "done_low", "done_high"):
            if key in read:
                read[key] = score.hours_since(pitched, read[key])
        told.append(read)
    return told


def _hour(log: Log, at: datetime) -> float:
    return (at - score.instant(log.label["pitch_time"])).total_seconds() / 3600.0


def _first_agreeing(log: Log, probe: str, apart_h: float) -> float | None:
    """When two raw readings so far apart first agree, once something has fermented; what many brewers go by."""
    start = (log.label["original_gravity_entered"] - 1.0) * 1000.0
    rows = [(_hour(log, row[0]), (row[3] - 1.0) * 1000.0) for row in log.rows if row[1] == probe]
    rows.sort()
    place = 0
    for hour, points in rows:
        while rows[place + 1][0] <= hour - apart_h:
            place += 1
        early_h, early = rows[place]
        if early_h <= hour - apart_h and abs(early - points) <= AGREE_POINTS and start - points > 10.0:
            return hour
    return None
