"""Grades the judgement in a closed loop: `python -m tests.judge.closed [--batches N] [--seeds tuning|grading] ...`.

Constants may be tuned on the tuning seeds only; what is told of the judgement comes from the grading seeds.
"""

import argparse
import os
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor

from tests.judge.closed.batches import SIMULATORS, brew
from tests.judge.closed.grading import Graded, early_ones, grade, table
from tests.judge.closed.loop import MODES, Mode, run
from tests.judge.closed.story import story
from tests.reference.judgement import score

SEEDS = {"tuning": 0, "grading": 900_000}
SEEDS_APART = 5_000  # between two modes, so that no batch is counted twice
BATCHES = 1200
STORIES = len(MODES)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--batches", type=int, default=BATCHES, help="over all modes and simulators")
    parser.add_argument("--seeds", choices=SEEDS, default="grading")
    parser.add_argument("--mode", choices=[mode.name for mode in MODES], help="one mode alone")
    parser.add_argument("--simulator", choices=SIMULATORS, help="one simulator alone")
    parser.add_argument("--story", type=int, metavar="SEED", help="tell one batch, evening by evening, and grade none")
    parser.add_argument("--stories", action="store_true", help=f"tell {STORIES} batches whole, and grade none")
    options = parser.parse_args()
    modes = [mode for mode in MODES if options.mode in {None, mode.name}]
    simulators = [name for name in SIMULATORS if options.simulator in {None, name}]
    if options.story is not None:
        _tell([(simulators[0], options.story, modes[0])])
        return 0
    batches = list(_batches(options.batches, SEEDS[options.seeds], modes, simulators))
    if options.stories:
        _tell(spread(batches, STORIES, len(simulators)))
        return 0
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        graded: list[Graded] = list(pool.map(grade, *zip(*batches, strict=True), chunksize=4))
    score.say(f"{len(graded)} batches in a closed loop, {options.seeds} seeds; 95 % intervals in brackets")
    for line in (*table(graded), "", "each early batch:", *early_ones(graded)):
        score.say(line)
    return 0


def _batches(count: int, first: int, modes: list[Mode], simulators: list[str]) -> Iterator[tuple[str, int, Mode]]:
    each = max(count // (len(modes) * len(simulators)), 1)
    for mode in modes:
        start = first + MODES.index(mode) * SEEDS_APART
        for place in range(each):
            for simulator in simulators:
                yield simulator, start + place, mode


def spread(batches: list[tuple[str, int, Mode]], count: int, simulators: int) -> list[tuple[str, int, Mode]]:
    """So many of them, of all modes and of each simulator in turn."""
    step = max(len(batches) // count, simulators)
    step -= step % simulators
    return [batches[start + place % simulators] for place, start in enumerate(range(0, len(batches), step))][:count]


def _tell(batches: list[tuple[str, int, Mode]]) -> None:
    for simulator, seed, mode in batches:
        for line in story(run(brew(simulator, seed), mode)):
            score.say(line)


if __name__ == "__main__":
    sys.exit(main())
