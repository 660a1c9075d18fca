"""evenlead what-if, whole, on the starter job."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cutlist.cli.main import evenlead
from tests.job.broken import write_job


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("starter") / "locker"
    assert CliRunner().invoke(evenlead, ["new", str(folder)]).exit_code == 0
    return folder / "job.yaml"


def asked(job: Path, *options: str) -> Result:
    result = CliRunner().invoke(evenlead, ["what-if", str(job), *options], standalone_mode=False)
    assert result.exception is None
    return result


def test_every_usual_question_is_answered(starter: Path) -> None:
    text = asked(starter).output
    for caption in ("A string out of service", "A string put back", "One bad crimp", "One string more"):
        assert caption in text


def test_only_what_is_asked_is_answered(starter: Path) -> None:
    """The starter's strings carry even shares: with one of n out the others carry n / (n - 1)."""
    import cutlist

    job, _ = cutlist.read_job(starter)
    result = asked(starter, "--out", job.strings[0].name)
    n = len(job.strings)
    rise = float(result.output.splitlines()[-1].split()[2])
    assert rise == pytest.approx(100 * (n / (n - 1) - 1), abs=1.0)
    assert "crimp" not in result.output


def test_a_string_nearly_empty_is_too_much(starter: Path) -> None:
    import cutlist

    name = cutlist.read_job(starter)[0].strings[0].name
    gentle = asked(starter, "--rejoin", f"{name}=79%")
    assert gentle.return_value == 0
    assert "TOO MUCH" not in gentle.output
    crimp = asked(starter, "--crimp", f"{name} positive = 0 mohm")
    assert crimp.return_value == 0


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The starter with its second string taken out."""
    edits = (
        ("  - {name: B, batteries: [B1, B2]}\n", ""),
        ("  - row: {names: [B1, B2], type: AGM 12 V, at: [760, 370, 20], along: x, air gap: 20}\n", ""),
    )
    return write_job(tmp_path_factory.mktemp("alone"), edits)


def test_one_string_is_asked_only_what_has_an_answer(alone: Path) -> None:
    """60 A through 1 milliohm more: 60 mV and 3.6 W."""
    text = asked(alone).output
    assert "out of service\n" not in text
    assert "put back" not in text
    assert "The bank has one string: there is none to share with" in text
    (crimp,) = (line.split() for line in text.splitlines() if line.startswith("  A positive"))
    assert crimp[2:5] == ["1", "60.0", "3.60"]
    assert "One string more" in text


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--out", "A"), "A is the only string: without it the bank is dead"),
        (("--rejoin", "A = 40 %"), "A is the only string: there are no others to close it onto"),
    ],
)
def test_of_one_string_no_other_is_asked(alone: Path, options: tuple[str, str], said: str) -> None:
    result = asked(alone, *options)
    assert result.return_value == 2
    assert said in result.stderr


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--rejoin", "S1"), '--rejoin "S1": no name, equals sign and figure'),
        (("--rejoin", "S1 = 140 %"), "between 0 and 100 %"),
        (("--others", "80"), "has no unit"),
        (("--crimp", "S1 positive = 2 m"), "is not a resistance"),
        (("--crimp", "S1 positive = -2 mohm"), "less than no resistance"),
        (("--add", "2.4 m"), "not two lengths"),
        (("--add", "2.4 m, -1 m"), "no shorter than nothing"),
        (("--out", "nobody"), 'no string "nobody"'),
        (("--crimp", "nobody positive = 1 mohm"), 'no cable "nobody positive"'),
    ],
)
def test_wrong_questions_are_told(starter: Path, options: tuple[str, ...], said: str) -> None:
    result = asked(starter, *options)
    assert result.return_value == 2
    assert said in result.output


def test_all_faults_at_once(tmp_path: Path) -> None:
    result = asked(tmp_path / "nothing.yaml", "--rejoin", "S1", "--add", "x")
    assert result.return_value == 2
    assert "3 faults:" in result.output
