"""Which files are taken for which tables, and which are refused or left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from fleet.files.reader import read_tables
from fleet.services.load_ports import BookFile, Faults
from tests.fleet.files.reading import faults_of, records_of, write

PATTERNS = "site,from,open_days\n"


def test_files_that_are_no_table_are_told_or_left_out(tmp_path: Path) -> None:
    write(tmp_path, Patterns=PATTERNS, unit=PATTERNS)
    for name in ("READ.md", ".hidden", "~$units.xlsx", "old.xls"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "archive").mkdir()

    assert faults_of(tmp_path) == [
        "old.xls: files of the kind '.xls' cannot be read; save it as CSV UTF-8 or XLSX",
        "unit.csv: no table is called 'unit'; did you mean 'units'?",
    ]
    assert list(read_tables([tmp_path]).remarks()) == [
        "READ.md: left out, it is no CSV, XLSX or TOML file",
        "archive: a folder inside the folder was left out",
    ]


def test_paths_that_lead_nowhere_are_told(tmp_path: Path) -> None:
    empty, missing, text = tmp_path / "empty", tmp_path / "missing.csv", tmp_path / "a.txt"
    empty.mkdir()
    text.write_text("")

    assert faults_of(empty, missing, text) == [
        f"{empty}: the folder holds no table and no rule book;"
        " name a folder with files such as units.csv",
        f"{missing}: there is no such file or folder; check the path",
        "a.txt: files of the kind '.txt' cannot be read; save it as CSV UTF-8 or XLSX",
    ]


def test_a_file_named_twice_is_taken_once(tmp_path: Path) -> None:
    row = "alder,2026-01-01,Mon\n"
    write(tmp_path, patterns=PATTERNS + row)

    assert len(records_of(tmp_path, tmp_path / "patterns.csv", tmp_path / "." / "")) == 1


def test_a_file_that_may_not_be_opened_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path, patterns=PATTERNS)

    def refuse(path: Path, mode: str) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    assert faults_of(tmp_path) == [
        "patterns.csv: it cannot be opened (Permission denied);"
        " close it elsewhere and check who may read it"
    ]


def test_one_rule_book_is_taken_whole(tmp_path: Path) -> None:
    (tmp_path / "rules.toml").write_text("\ufeff# é\n", encoding="utf-8")

    faults = Faults()
    assert read_tables([tmp_path]).book(faults) == BookFile("rules.toml", "# é\n")
    (tmp_path / "rules-2.toml").write_text("")
    assert faults_of(tmp_path) == [
        "rules.toml: there is a second rule book beside rules-2.toml;"
        " load one book: it is taken whole"
    ]


def test_a_rule_book_in_another_encoding_is_told(tmp_path: Path) -> None:
    (tmp_path / "rules.toml").write_bytes("# é\n".encode("cp1252"))

    assert faults_of(tmp_path) == ["rules.toml: the text is not UTF-8; save it again as UTF-8"]
