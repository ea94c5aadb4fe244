"""`fermwatch init`: the steps that a machine lacks, done once, taken away again, and never a reading with them."""

import argparse
import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from fermwatch.commands.context import Context
from fermwatch.commands.init import carry_out
from fermwatch.commands.installing import plan
from fermwatch.commands.installing.looking import look
from fermwatch.commands.installing.plan import CONFIG, COPY, SHORTCUT, STAMP, UNIT, CommandStep, Machine, Program
from fermwatch.commands.installing.unit import unit
from fermwatch.config.locate import SYSTEM_DIRECTORY, SYSTEM_STATE
from fermwatch.errors import FermwatchError, InputError

AT_OPT = Program(Path("/opt/beer"), Path("/usr"), Path("/opt/beer/bin/python"), "0.1.0", working_copy=False, alone=True)
IN_HOME = replace(AT_OPT, prefix=Path("/home/ann/.local/venvs/fermwatch"))
EMPTY = Machine(
    program=AT_OPT,
    is_root=True,
    has_systemd=True,
    has_user=False,
    groups={"dialout": frozenset()},
    directories={},
    files={},
    active=False,
    enabled=False,
    person="ann",
    first_text=plan.first_text("Europe/Vienna"),
)


def after(machine: Machine, step: CommandStep) -> Machine:
    """What the machine is once the command was run: enough of each command to plan again."""
    match step.command:
        case ["systemctl", "enable" | "disable" as how, *_]:
            return replace(machine, active=how == "enable", enabled=how == "enable")
        case ["systemctl" | "chmod", *_]:
            return machine
        case ["mv", *_]:
            return replace(machine, own=None)
        case ["install" | "cp" | "rm", *_]:
            return with_files(machine, step)
    return with_people(machine, step.command)


def with_files(machine: Machine, step: CommandStep) -> Machine:
    path = Path(step.command[-1])
    files, directories = dict(machine.files), dict(machine.directories)
    match step.command:
        case ["install", "-d", "-o", owner, "-g", group, "-m", mode, _]:
            directories[path] = (owner, group, int(mode, 8))
        case ["install", *_]:
            files[path] = step.text or ""
        case ["cp", *_]:
            directories[path] = ("root", "root", 0o755)
        case _:
            files = {one: text for one, text in files.items() if not one.is_relative_to(path)}
            directories = {one: seen for one, seen in directories.items() if not one.is_relative_to(path)}
    return replace(machine, files=files, directories=directories)


def with_people(machine: Machine, command: tuple[str, ...]) -> Machine:
    groups, has_user = dict(machine.groups), machine.has_user
    match command:
        case ["groupadd", _, group]:
            groups[group] = frozenset()
        case ["useradd", "--system", "--gid", group, *_, user]:
            groups[group] |= {user}
            has_user = True
        case ["usermod", "-aG", group, user]:
            groups[group] |= {user}
        case ["userdel", user]:
            groups = {name: members - {user} for name, members in groups.items()}
            has_user = False
        case ["groupdel", group]:
            del groups[group]
        case _:
            raise AssertionError(command)
    return replace(machine, groups=groups, has_user=has_user)


def done(machine: Machine, steps: tuple[CommandStep, ...]) -> Machine:
    for step in steps:
        machine = after(machine, step)
    return machine


def words(steps: tuple[CommandStep, ...]) -> list[str]:
    return [step.shown for step in steps]


def test_an_empty_machine_gets_all_that_a_watcher_needs() -> None:
    nobody = f"--home-dir {SYSTEM_STATE} --no-create-home --shell /usr/sbin/nologin fermwatch"
    assert words(plan.install(EMPTY)) == [
        "groupadd --system fermwatch",
        f"useradd --system --gid fermwatch {nobody}",
        "usermod -aG dialout fermwatch",
        "usermod -aG fermwatch ann",
        "usermod -aG dialout ann",
        "install -d -o root -g fermwatch -m 0750 /etc/fermwatch",
        "install -d -o fermwatch -g fermwatch -m 2750 /var/lib/fermwatch",
        "install -o root -g fermwatch -m 0640 /etc/fermwatch/fermwatch.toml",
        "install -o root -g root -m 0755 /usr/local/bin/fermwatch",
        "install -o root -g root -m 0644 /etc/systemd/system/fermwatch.service",
        "systemctl daemon-reload",
        "systemctl enable --now fermwatch.service",
    ]


@pytest.mark.parametrize("program", [AT_OPT, IN_HOME])
def test_done_twice_it_does_nothing_and_taken_away_the_readings_stay(program: Program) -> None:
    made = done(replace(EMPTY, program=program), plan.install(replace(EMPTY, program=program)))
    assert plan.install(made) == ()
    taken = done(made, plan.remove(made, with_readings=False))
    assert set(taken.files) == {CONFIG}
    assert set(taken.directories) == {SYSTEM_DIRECTORY, SYSTEM_STATE}
    assert taken.has_user
    assert not any(str(SYSTEM_STATE) in step.shown for step in plan.remove(made, with_readings=False))
    assert not taken.active
    assert done(taken, plan.install(taken)) == made
    bare = done(made, plan.remove(made, with_readings=True))
    assert bare == replace(EMPTY, program=program, groups={"dialout": frozenset({"ann"})})
    assert plan.remove(bare, with_readings=True) == ()


def test_what_lies_in_a_home_is_copied_to_where_a_service_may_go() -> None:
    home = replace(EMPTY, program=IN_HOME)
    steps = plan.install(home)
    assert f"cp -r --no-preserve=ownership {IN_HOME.prefix} {COPY}" in words(steps)
    made = done(home, steps)
    assert f"ExecStart={COPY}/bin/python -m fermwatch" in made.files[UNIT]
    newer = replace(made, program=replace(IN_HOME, version="0.2.0"))
    assert words(plan.install(newer))[:2] == [f"rm -r {COPY}", f"cp -r --no-preserve=ownership {IN_HOME.prefix} {COPY}"]
    foreign = replace(home, directories={COPY: ("root", "root", 0o755)})
    with pytest.raises(FermwatchError, match="was not made by fermwatch init"):
        plan.install(foreign)


def test_what_others_put_there_is_left_alone() -> None:
    mine = replace(EMPTY, files={CONFIG: "# mine", SHORTCUT: "#!/bin/sh\n# mine"}, groups={"uucp": frozenset()})
    made = done(mine, plan.install(mine))
    assert made.files[CONFIG] == "# mine"
    assert made.files[SHORTCUT] == "#!/bin/sh\n# mine"
    assert "SupplementaryGroups=uucp" in made.files[UNIT]
    assert SHORTCUT in done(made, plan.remove(made, with_readings=True)).files


def test_a_persons_own_configuration_becomes_the_machines_and_goes_before_it_no_more() -> None:
    own = Path("/home/ann/.config/fermwatch/fermwatch.toml")
    begun = replace(EMPTY, own=own, first_text="# ann's")
    steps = plan.install(begun)
    assert f"mv {own} /home/ann/.config/fermwatch/fermwatch.before-init" in words(steps)
    assert done(begun, steps).files[CONFIG] == "# ann's"
    there = replace(begun, files={CONFIG: "# the machine's"})
    assert not any(word.startswith("mv") for word in words(plan.install(there)))


def test_a_changed_unit_is_taken_up_by_a_watcher_that_runs() -> None:
    made = done(EMPTY, plan.install(EMPTY))
    moved = replace(made, store=Path("/srv/beer"))
    assert words(plan.install(moved))[1:] == ["systemctl daemon-reload", "systemctl restart fermwatch.service"]
    assert "ReadWritePaths=/srv/beer" in done(moved, plan.install(moved)).files[UNIT]


@pytest.mark.parametrize(
    ("machine", "said"),
    [
        (replace(EMPTY, has_systemd=False), "not run by systemd"),
        (replace(EMPTY, is_root=False), "sudo /opt/beer/bin/python -m fermwatch init"),
        (replace(EMPTY, program=replace(IN_HOME, working_copy=True)), "working copy"),
        (replace(EMPTY, program=replace(IN_HOME, alone=False)), "an environment of its own"),
        (replace(EMPTY, program=replace(AT_OPT, base=Path("/home/ann/python"))), "the system's own Python"),
    ],
)
def test_where_it_cannot_be_done_it_is_refused_with_the_remedy(machine: Machine, said: str) -> None:
    with pytest.raises(FermwatchError) as refused:
        plan.refuse(machine, removing=False, again="init")
    assert said in str(refused.value)


def options(**said: bool | str) -> argparse.Namespace:
    return argparse.Namespace(
        **{"dry_run": False, "yes": False, "remove": False, "with_readings": False, "altitude": None, **said}
    )


def context(directory: Path) -> Context:
    return Context(None, directory, "home", {"HOME": str(directory)})


def test_each_command_is_shown_before_any_runs_and_it_is_asked_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    ran: list[CommandStep] = []
    with pytest.raises(InputError, match="no terminal"):
        carry_out(options(), context(tmp_path), EMPTY, ran.append)
    shown = capsys.readouterr().out
    assert ran == []
    assert all(step.shown in shown for step in plan.install(EMPTY))
    assert carry_out(options(dry_run=True), context(tmp_path), EMPTY, ran.append) == 0
    assert ran == []
    assert carry_out(options(yes=True), context(tmp_path), EMPTY, ran.append) == 0
    assert tuple(ran) == plan.install(EMPTY)


def test_the_altitude_is_asked_once_where_a_configuration_is_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    questions: list[str] = []
    answers = ["350m", "y"]

    def answer(question: str) -> str:
        questions.append(question)
        return answers[len(questions) - 1]

    ran: list[CommandStep] = []
    monkeypatch.setattr("builtins.input", answer)
    for stream in (sys.stdin, sys.stdout):
        monkeypatch.setattr(stream, "isatty", lambda: True)
    assert carry_out(options(), context(tmp_path), EMPTY, ran.append) == 0
    assert [question.startswith("How high above the sea") for question in questions] == [True, False]
    (text,) = [step.text for step in ran if step.command[-1] == str(CONFIG)]
    assert tomllib.loads(text or "")["site"]["altitude_m"] == 350


def test_the_altitude_may_be_said_and_belongs_into_a_configuration_that_is_there(tmp_path: Path) -> None:
    ran: list[CommandStep] = []
    assert carry_out(options(yes=True, altitude="3000ft"), context(tmp_path), EMPTY, ran.append) == 0
    (text,) = [step.text for step in ran if step.command[-1] == str(CONFIG)]
    assert tomllib.loads(text or "")["site"]["altitude_m"] == 914
    begun = replace(EMPTY, files={CONFIG: "[site]"})
    with pytest.raises(InputError, match="for a new configuration"):
        carry_out(options(yes=True, altitude="350m"), context(tmp_path), begun, ran.append)
    for wrong in ("9000m", "-480m", "", "high"):
        with pytest.raises(InputError, match="altitude"):
            carry_out(options(yes=True, altitude=wrong), context(tmp_path), EMPTY, ran.append)


def test_a_command_that_fails_ends_it(tmp_path: Path) -> None:
    ran: list[CommandStep] = []

    def fails(step: CommandStep) -> None:
        ran.append(step)
        if step.command[0] == "useradd":
            raise FermwatchError("no.")

    with pytest.raises(FermwatchError):
        carry_out(options(yes=True), context(tmp_path), EMPTY, fails)
    assert [step.command[0] for step in ran] == ["groupadd", "useradd"]


def test_readings_are_deleted_only_beside_remove(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        carry_out(options(with_readings=True, yes=True), context(tmp_path), EMPTY, lambda _: None)


def test_the_file_steps_really_done_are_found_again(tmp_path: Path) -> None:
    """Below a directory, with the real `install`, as whoever runs this test."""
    for step in plan.install(EMPTY):
        if step.command[0] == "install":
            kept = [word for at, word in enumerate(step.command) if not ({word, step.command[at - 1]} & {"-o", "-g"})]
            below = str(tmp_path) + kept[-1]
            Path(below).parent.mkdir(parents=True, exist_ok=True)
            subprocess.run([*kept[:-1], below], input=step.text or "", text=True, check=True, timeout=20)
    found = look({}, tmp_path)
    assert found.files[UNIT].endswith("WantedBy=multi-user.target\n")
    assert found.files[CONFIG] == EMPTY.first_text
    assert [found.directories[path][2] for path in (SYSTEM_DIRECTORY, SYSTEM_STATE)] == [0o750, 0o2750]
    again = words(plan.install(replace(EMPTY, files=found.files)))
    assert not [word for word in again if word.startswith("install -o")]
    assert STAMP not in found.files


def unit_file(directory: Path) -> Path:
    file = directory / "fermwatch.service"
    file.write_text(unit(("/bin/true",), CONFIG, "root", "", None))
    return file


def test_a_path_with_blanks_and_percent_signs_is_one_word_of_the_unit() -> None:
    text = unit(("/opt/50% off/fermwatch",), CONFIG, "fermwatch", "", Path('/mnt/a "beer" disk'))
    assert 'ExecStart="/opt/50%% off/fermwatch" --config /etc/fermwatch/fermwatch.toml watch\n' in text
    with pytest.raises(InputError, match="cannot stand in a unit"):
        unit(("/bin/true",), CONFIG, "fermwatch", "", Path("/mnt/x\nExecStartPre=/bin/sh"))
    assert "--config /mnt/$$HOME/f.toml watch" in unit(("/bin/true",), Path("/mnt/$HOME/f.toml"), "fermwatch", "", None)
    assert 'ReadWritePaths="/mnt/a \\"beer\\" disk"\n' in text


@pytest.mark.needs_systemd
def test_systemd_finds_nothing_wrong_with_the_unit_and_little_to_fear(tmp_path: Path) -> None:
    file = unit_file(tmp_path)
    right = subprocess.run(["systemd-analyze", "verify", file], capture_output=True, text=True, timeout=60, check=False)
    assert "fermwatch.service" not in right.stderr, right.stderr
    weighing = ["systemd-analyze", "security", "--offline=true", "--threshold=25", str(file)]
    weighed = subprocess.run(weighing, capture_output=True, text=True, timeout=60, check=False)
    assert weighed.returncode == 0, weighed.stdout
