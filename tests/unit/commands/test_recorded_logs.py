"""What `replay` and `import` say of their files is what they read."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.cli import main
from fermwatch.errors import ConfigError
from fermwatch.model.batch import EventKind
from fermwatch.replaying.input import FORMATS, read_batch, read_log
from fermwatch.science.yeasts import yeast_named
from tests.support.samples import VESSELS, beer_probe, gravity_probe
from tests.support.stores import open_reader, open_writer


def examples(directory: Path) -> tuple[Path, Path]:
    """The log and the batch that the help shows, as files: the two indented blocks."""
    blocks = [block for block in FORMATS.split("\n\n") if block.startswith("  ")]
    log, batch = directory / "log.csv", directory / "batch.toml"
    for file, block in zip((log, batch), blocks, strict=True):
        file.write_text("\n".join(line.strip() for line in block.splitlines()), encoding="utf-8")
    return log, batch


def test_the_examples_of_the_help_are_read(tmp_path: Path) -> None:
    log, file = examples(tmp_path)
    assert [row.value for row in read_log(log)] == [19.4, 1.0521, 1.0125]
    batch, events = read_batch(file)
    assert (batch.original_sg, batch.volume_l) == (1.052, 19.0)
    assert [event.kind for event in events] == [EventKind.FORCED_FERMENT]


def test_the_help_names_every_kind_of_event() -> None:
    assert all(kind in FORMATS for kind in EventKind)


@pytest.mark.parametrize("command", ["replay", "import"])
def test_the_formats_are_in_the_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main([command, "--help"])
    assert FORMATS in capsys.readouterr().out


def test_a_kind_of_the_catalogue_is_a_yeast(tmp_path: Path) -> None:
    _, file = examples(tmp_path)
    kind = yeast_named("clean-ale")
    yeast = read_batch(file)[0].yeast
    assert (yeast.temperature_low_c, yeast.temperature_high_c) == kind.temperature_c
    assert (yeast.attenuation_low, yeast.attenuation_high) == kind.attenuation
    file.write_text(file.read_text(encoding="utf-8").replace("clean-ale", "magic"), encoding="utf-8")
    with pytest.raises(ConfigError, match=r"yeast: 'magic' is not a kind"):
        read_batch(file)


def test_a_log_is_not_put_under_a_probe_that_was_in_another_fermenter_then(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log, batch = examples(tmp_path)
    writer = open_writer(tmp_path / "store", "home", datetime(2026, 4, 1, tzinfo=UTC), ballast_bytes=4096)
    for day, vessel in ((1, "left"), (9, "right")):
        probes = [beer_probe("beer", vessel), gravity_probe("float", vessel)]
        writer.declare("UTC", VESSELS, probes, datetime(2026, 4, day, tzinfo=UTC))
    writer.close()
    words = ["--store", str(tmp_path / "store"), "--site", "home", "--batch", str(batch), "--vessel", "right"]
    assert main(["import", str(log), *words]) != 0
    assert "was in left, not in right: the log would be taken for another beer's" in capsys.readouterr().err
    with open_reader(tmp_path / "store", "home") as reader:
        assert not reader.batches(ended=True)


def test_a_log_that_reaches_beyond_now_leaves_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log, batch = examples(tmp_path)
    writer = open_writer(tmp_path / "store", "home", datetime(2026, 1, 1, tzinfo=UTC), ballast_bytes=4096)
    probes = [beer_probe("beer", "right"), gravity_probe("float", "right")]
    writer.declare("UTC", VESSELS, probes, datetime(2026, 1, 1, tzinfo=UTC))
    writer.close()
    words = ["--store", str(tmp_path / "store"), "--site", "home", "--batch", str(batch), "--vessel", "right"]
    log.write_text(f"{log.read_text(encoding='utf-8')}\n2198-01-01T00:00:00Z,B1,temperature_C,19.4\n", encoding="utf-8")
    assert main(["import", str(log), *words]) != 0
    told = capsys.readouterr().err
    assert "times that are yet to come: 2198-01-01 00:00 UTC" in told
    assert "Nothing was taken in" in told
    with open_reader(tmp_path / "store", "home") as reader:
        assert not reader.batches()
