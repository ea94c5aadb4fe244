"""Alarms that reach a person, by a real watcher that runs a real program."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.model.finding import Severity
from fermwatch.model.telling import NotifierStatus
from tests.support.notifying import FAILS, HANGS, KILLS_THE_WATCHER, by_command, lay, messages, program, standing
from tests.support.running import Site, until, vessel
from tests.support.stores import open_writer

KILLS = 50


@pytest.fixture
def site(tmp_path: Path) -> Site:
    return Site(tmp_path / "site")


def test_a_person_is_told_once_what_is_wrong_since_when_and_what_to_do(site: Site) -> None:
    file, kept = program(site.directory)
    site.configure(vessel(), by_command("phone", file))
    lay(site, standing())
    with site.watched() as watching:
        watching.says("phone told: cellar: too warm")
        assert watching.stop() == 0
    with site.watched() as watching:
        watching.says("watching home")
        shown = site.run("notify", "show")
        assert watching.stop() == 0
    (message,) = messages(kept)
    assert (message["title"], message["severity"], message["site"]) == ("cellar: too warm", "critical", "home")
    assert "cellar: 24.1 in place of 17 to 21. Since " in message["text"]
    assert "Cool it by hand." in message["text"]
    (part,) = message["parts"]
    assert (part["rule"], part["why"], part["thread"]) == ("temperature-high", "began", message["thread"])
    assert shown.stdout.startswith("phone (by command): told something last today")
    assert "cellar: too warm, began" in shown.stdout
    plain = json.loads(site.run("notify", "show", "--json").stdout)
    assert [one["message"] for one in plain["notifiers"][0]["told"]] == [message["id"]]


def test_a_watcher_killed_between_telling_and_writing_it_down_tells_it_again_under_the_same_id(site: Site) -> None:
    """None is lost, and whoever gets two of one id knows that they are one."""
    file, kept = program(site.directory, KILLS_THE_WATCHER)
    site.configure(vessel(), by_command("phone", file))
    lay(site, standing())
    for turn in range(1, KILLS + 1):
        process = site.start().process
        assert process.wait(45) == -9
        assert len(messages(kept)) == turn
    program(site.directory)
    with site.watched() as watching:
        watching.says("phone told: cellar: too warm")
        assert watching.stop() == 0
    assert len(messages(kept)) == KILLS + 1
    assert len({one["id"] for one in messages(kept)}) == 1
    assert len({part["id"] for one in messages(kept) for part in one["parts"]}) == 1


def test_one_that_hangs_or_fails_holds_up_neither_the_watcher_nor_the_others(site: Site) -> None:
    hanging, _ = program(site.directory, HANGS, "hang")
    failing, _ = program(site.directory, FAILS, "fail")
    good, kept = program(site.directory)
    site.configure(
        vessel(),
        by_command("stuck", hanging, "limit_s = 1"),
        by_command("broken", failing),
        by_command("phone", good),
    )
    lay(site, standing())
    with site.watched() as watching:
        watching.says("phone told")
        watching.says("stuck: ")
        watching.says("broken: ")
        assert "took longer than 1 s, and was killed" in watching.log()
        assert "ended with status 1: no net: " in watching.log()
        assert "\x1b" not in watching.log()
        until(lambda: _failing(site) == {"stuck", "broken"}, "both are known to fail", seen=watching.log)
        assert watching.stop() == 0
    assert len(messages(kept)) == 1


def _failing(site: Site) -> set[str]:
    plain = json.loads(site.run("notify", "show", "--json").stdout)
    return {one["name"] for one in plain["notifiers"] if one["failing_since"]}


def test_what_was_seen_before_anybody_could_be_told_is_not_told(site: Site) -> None:
    file, kept = program(site.directory)
    site.configure(vessel(), by_command("phone", file))
    grave = standing("site:cellar", acknowledged_at=standing().raised_at, acknowledged_by="eva")
    lay(site, grave, standing("site:requests", Severity.CRITICAL))
    with site.watched() as watching:
        watching.says("phone told")
        assert watching.stop() == 0
    (message,) = messages(kept)
    assert [part["subject"] for part in message["parts"]] == ["site:requests"]


def test_a_test_is_sent_at_once_and_says_what_is_wrong(site: Site) -> None:
    good, kept = program(site.directory)
    failing, _ = program(site.directory, FAILS, "fail")
    site.configure(vessel(), by_command("phone", good), by_command("broken", failing))
    done = site.run("notify", "test", "phone")
    assert (done.returncode, done.stderr) == (0, "")
    assert "it was handed over" in done.stdout
    assert messages(kept)[0]["title"] == "fermwatch at home: a test"
    done = site.run("notify", "test")
    assert done.returncode == 1
    assert "ended with status 1: no net: " in " ".join(done.stdout.split())
    assert "\x1b" not in done.stdout
    unknown = site.run("notify", "test", "pager")
    assert (unknown.returncode, unknown.stderr.count("\n")) == (2, 2)
    assert "There is: phone, broken." in unknown.stderr


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('[[notify]]\nname = "phone"\nby = "pigeon"', "fermwatch.toml:5: notify[1].by: no notifier is called 'pigeon'"),
        ('[[notify]]\nname = "phone"\nby = "command"\nrun = ["/no/such"]', "is no program that may be run"),
        ('[[notify]]\nname = "phone"\nby = "command"', "fermwatch.toml:3: notify[1].run: is missing"),
        ('[telling]\nunits = "furlongs"', "telling.units"),
        ('[telling]\nquiet_from = "25:00"', "telling.quiet_from"),
    ],
)
def test_a_mistake_in_the_configuration_is_named_with_its_place(site: Site, table: str, said: str) -> None:
    site.configure(table)
    done = site.run("check")
    assert done.returncode == 78
    assert said in done.stderr
    assert done.stderr.count("\n") <= 2


def test_a_sign_of_life_is_given_while_people_can_be_told_and_withheld_else(site: Site) -> None:
    sign, signs = program(site.directory, name="sign")
    good, _ = program(site.directory)
    failing, _ = program(site.directory, FAILS, "fail")
    alive = f'[alive]\nby = "command"\nevery_s = 10\nrun = ["{sign}"]'
    site.configure(vessel(), by_command("phone", good), alive)
    lay(site)
    with site.watched() as watching:
        until(lambda: messages(signs), "a sign of life", seen=watching.log)
        assert watching.stop() == 0
    assert messages(signs)[0]["title"] == "fermwatch at home is alive"
    signs.unlink()
    site.configure(vessel(), by_command("phone", failing), alive)
    lay(site, standing())
    with open_writer(site.store, "home", datetime.now(UTC), ballast_bytes=4096) as writer:
        since = datetime.now(UTC) - timedelta(minutes=10)
        status = NotifierStatus("phone", "command", since, failing_since=since, detail="no net", waits=1)
        writer.set_notifier(status)
    with site.watched() as watching:
        watching.says("sign of life: withheld: nobody can be told by phone")
        assert watching.stop() == 0
    assert not messages(signs)


def test_one_that_failed_before_a_restart_is_tried_though_nothing_is_to_be_told(site: Site) -> None:
    good, kept = program(site.directory)
    site.configure(vessel(), by_command("phone", good))
    lay(site)
    since = datetime.now(UTC) - timedelta(minutes=10)
    with open_writer(site.store, "home", datetime.now(UTC), ballast_bytes=4096) as writer:
        writer.set_notifier(NotifierStatus("phone", "command", since, failing_since=since, detail="no net", waits=1))
    with site.watched() as watching:
        watching.says("phone told: fermwatch at home: a test")
        until(lambda: not _failing(site), "it works again", seen=watching.log)
        assert watching.stop() == 0
    assert [one["text"].partition(";")[0] for one in messages(kept)] == ["Nothing could be told by phone for a while"]
