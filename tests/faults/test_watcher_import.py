"""A recorded log is taken in beside a running watcher, through it; cut short, it goes on where it was."""

import json
import signal
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.support.running import Site, probe, serial_source, until, vessel
from tests.support.stores import open_reader
from tests.support.terminal import Board

MINUTES = 12_000  # a little over eight days


def recorded(directory: Path, minutes: int = MINUTES) -> tuple[str, ...]:
    """The words of an import of an invented ale that ended yesterday."""
    directory.mkdir(parents=True, exist_ok=True)
    log, batch = directory / "log.csv", directory / "batch.toml"
    start = datetime.now(UTC).replace(microsecond=0) - timedelta(days=1, minutes=minutes)
    lines = ["time,probe,quantity,value"]
    for minute in range(minutes):
        at = (start + timedelta(minutes=minute)).strftime("%Y-%m-%dT%H:%M:%SZ")
        lines.append(f"{at},T1,temperature_C,{19 + minute % 7 / 10:.1f}")
        if minute % 15 == 0:
            lines.append(f"{at},G1,gravity_SG,{1.050 - 0.040 * minute / minutes:.4f}")
    lines.append(f"{(start + timedelta(minutes=minutes // 2)).isoformat()},hydrometer,gravity_SG,1.0350")
    log.write_text("\n".join(lines) + "\n")
    batch.write_text(
        f'name = "Invented ale"\nog_sg = 1.050\npitched_at = {start.isoformat()}\nyeast = "clean-ale"\nvolume_l = 19\n'
        f'[[event]]\nat = {(start + timedelta(minutes=minutes // 3)).isoformat()}\nkind = "dry-hop"\ngrams = 50\n'
    )
    return "import", str(log), "--batch", str(batch), "--vessel", "left"


def configured(site: Site, port: Path) -> None:
    site.configure(
        vessel(),
        vessel("right"),
        serial_source("board", port),
        probe("left-beer", "board", "l"),
        probe("left-gravity", "board", "g", 'quantity = "gravity"', 'unit = "SG"'),
        probe("right-beer", "board", "r", vessel="right"),
    )


def taken_in(site: Site) -> tuple[int, int, int, int]:
    """Temperatures, gravities, measurements and events of it that are in the store."""
    with open_reader(site.store, "home") as reader:
        batches = [one for one in reader.batches(ended=True) if one.name == "Invented ale"]
        assert len(batches) == 1
        said = len(reader.measurements(batches[0].id)), len(reader.events(batches[0].id))
    return len(site.readings("left-beer")), len(site.readings("left-gravity")), *said


WHOLE = (MINUTES, MINUTES // 15, 1, 1)


def test_beside_a_watcher_it_goes_through_it_and_the_beer_is_judged(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    words = recorded(tmp_path / "log")
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        done = site.run(*words)
        assert done.returncode == 0, done.stderr
        assert "Taken in as Invented ale of left: 12800 readings" in done.stdout
        assert taken_in(site) == WHOLE
        again = site.run(*words)
        assert again.returncode == 0, again.stderr
        assert "had been taken in before" in again.stdout
        assert taken_in(site) == WHOLE
        board.say("", "r=19.5")
        until(lambda: len(site.readings("right-beer")) == 1, "it watches on", seen=site.log)

        def judged() -> object:
            said = json.loads(site.run("bottle", "left", "--json").stdout)
            with open_reader(site.store, "home") as reader:
                judgement = reader.judgement(reader.open_batches()[0])
            return said and judgement is not None and judgement.trend is not None

        until(judged, "what was taken in is judged by", seen=site.log)
        assert watching.stop() == 0
        assert "Traceback" not in watching.log()


def test_cut_short_anywhere_it_goes_on_where_it_was(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    words = recorded(tmp_path / "log")
    with Board(port), site.watched() as watching:
        watching.says("is connected")
        for parts in (1, 4, 9):
            killed = subprocess.Popen(site.command(*words), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            until(lambda parts=parts: watching.log().count("import by ") >= parts, "a part is in", seen=site.log)  # type: ignore[misc]
            killed.send_signal(signal.SIGKILL)
            killed.wait(30)
        watching.kill()  # and the watcher too
    with Board(port), site.watched() as watching:
        done = site.run(*words)
        assert done.returncode == 0, done.stderr
        assert taken_in(site) == WHOLE
        assert watching.stop() == 0


def test_without_a_watcher_it_is_written_at_once_and_cut_short_it_goes_on(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    words = recorded(tmp_path / "log")
    with site.watched() as watching:
        assert watching.stop() == 0
    killed = subprocess.Popen(site.command(*words), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    until(lambda: len(site.readings("left-beer")) >= 1000, "a part is in", seen=site.log)
    killed.kill()
    killed.wait(30)
    done = site.run(*words)
    assert done.returncode == 0, done.stderr
    assert taken_in(site) == WHOLE


def test_what_cannot_be_taken_in_is_one_sentence_and_may_be_mended(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    *words, _ = recorded(tmp_path / "log", 500)
    with Board(port), site.watched() as watching:
        watching.says("is connected")
        unknown = site.run(*words, "nowhere")
        assert unknown.returncode == 2
        assert unknown.stderr.splitlines()[0] == "fermwatch: There is no fermenter 'nowhere'."
        other = site.open_batch("left")
        taken = site.run(*words, "left")
        assert taken.returncode != 0
        assert "The fermenter left still holds Invented ale" in taken.stderr
        ended = site.run("batch", "end", other, "--yes")
        assert ended.returncode == 0, ended.stderr
        mended = site.run(*words, "left")
        assert mended.returncode == 0, mended.stderr
        assert len(site.readings("left-beer")) == 500
        assert watching.stop() == 0


def test_a_first_start_is_no_condition(tmp_path: Path) -> None:
    """It said that the configuration names no fermenter, which names two: nobody had watched yet."""
    site = Site(tmp_path / "site")
    configured(site, tmp_path / "port")
    done = site.run(*recorded(tmp_path / "log", 1200))
    assert done.returncode == 0, done.stderr
    assert taken_in(site) == (1200, 80, 1, 1)
    assert "Invented ale" in site.run("status").stdout
    with Board(tmp_path / "port") as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", "l=19.5")
        until(lambda: len(site.readings("left-beer")) == 1201, "it watches on", seen=site.log)


def test_a_fermenter_that_is_not_there_is_told_with_those_that_are(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    configured(site, tmp_path / "port")
    words = recorded(tmp_path / "log", 60)
    done = site.run(*words[:-1], "stall")
    assert done.returncode == 2
    assert "There is: left, right." in done.stderr
    with Board(tmp_path / "port"), site.watched():
        site.config.write_text(site.config.read_text() + vessel("stall"))
        done = site.run(*words[:-1], "stall")
        assert "restart the watcher" in done.stderr
