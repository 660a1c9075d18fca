"""What the README says is so."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def test_python_use(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    failed, tried = doctest.testfile(str(ROOT / "README.md"), module_relative=False)
    assert tried >= 4
    assert failed == 0


def test_ci_runs_the_test_command_of_the_readme() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "<!-- test command -->\n```sh\n" in text
    assert "README.md" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
