"""`evenlead new` writes a job that is sound as it is, and overwrites nothing."""

from __future__ import annotations

from pathlib import Path

import jsonschema
from click.testing import CliRunner, Result
from ruamel.yaml import YAML

from cutlist.cli.new import new
from cutlist.job.reader import read_job
from cutlist.job.schema import schema_job, schema_stock


def run(folder: Path) -> Result:
    return CliRunner().invoke(new, [str(folder)], standalone_mode=False)


def test_the_starter_is_sound_and_keeps_to_the_schemas(tmp_path: Path) -> None:
    folder = tmp_path / "a new" / "job"
    assert run(folder).return_value == 0
    read = read_job(folder / "job.yaml")
    assert [fault.text() for fault in read.faults] == []
    assert read.job is not None
    assert [len(string.batteries) for string in read.job.strings] == [2, 2]
    for schema, file in ((schema_job(), "job.yaml"), (schema_stock(), "stock.yaml")):
        jsonschema.validate(YAML(typ="safe", pure=True).load((folder / file).read_text(encoding="utf-8")), schema)


def test_what_is_commented_out_is_sound_too(tmp_path: Path) -> None:
    """Somebody takes the # away: the keys must be right. Only whole commented entries are taken."""
    run(tmp_path)
    path = tmp_path / "job.yaml"
    lines = []
    for line in path.read_text(encoding="utf-8").split("\n"):
        bare = line.lstrip()
        wanted = bare.startswith(("# surge drop", "# support", "# clamp reach", "# - {name: hot pipe"))
        wanted |= bare.startswith(
            ("# bulkheads:", "#   - name: partition", "#     box:", "#     holes:", "#       - {")
        )
        wanted |= bare.startswith(("# zones:", "#   - {name: by the heater"))
        lines.append(line.replace("# ", "", 1) if wanted else line)
    path.write_text("\n".join(lines), encoding="utf-8")
    read = read_job(path)
    assert [fault.text() for fault in read.faults] == []
    assert read.job is not None
    assert len(read.job.site.space.penetrations) == 1
    assert read.job.limits.support_m == 0.45
    assert read.job.site.zones[0].temperature_c == 40


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    (tmp_path / "stock.yaml").write_text("mine", encoding="utf-8")
    done = run(tmp_path)
    assert done.return_value == 2
    assert "is there already" in done.output
    assert (tmp_path / "stock.yaml").read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "job.yaml").exists()


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    done = run(tmp_path / "file" / "job")
    assert done.return_value == 2
    assert f"{tmp_path / 'file'} is a file, not a folder" in done.output
    assert "mend: name another folder" in done.output


def test_a_folder_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    done = run(tmp_path / "file")
    assert done.return_value == 2
    assert "it is a file, not a folder" in done.output
    assert "mend:" in done.output
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"
