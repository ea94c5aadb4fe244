"""Judges simulated batches and prints how well: `python -m tests.judge [--first SEED] [--count N] [--lists]`."""

import argparse
import sys

from tests.judge.corpus import make
from tests.judge.grading import grade
from tests.reference.judgement import score

TEST_SEEDS = 500_000  # constants were tuned on smaller seeds only


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=TEST_SEEDS)
    parser.add_argument("--count", type=int, default=308)
    options = parser.parse_args()
    logs = (make(options.first + place) for place in range(options.count))
    result, tally = grade(logs, options.count)
    missed = 0
    for figure, value, aim, floor, met in result.rows():
        missed += not met
        score.say(f"{figure:<72}{value:<22}{aim:<18}{floor:<10}{'' if met else '  MISSED'}")
    for title in score.LISTS:
        for entry in result.wrong[title]:
            score.say(f"{title}: {entry}")
    for line in tally.lines():
        score.say(line)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
