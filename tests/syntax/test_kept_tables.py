"""The tables kept beside the grammar module are those of the grammar; an edited grammar is not read with old tables."""

from __future__ import annotations

import json
import zlib

import pytest

from proclang.syntax import grammar


def unpacked(data: bytes) -> object:
    return json.loads(zlib.decompress(data))


def test_the_kept_tables_are_those_of_the_grammar() -> None:
    """After a change of the grammar: `python -m proclang.syntax.grammar`."""
    kept, made = unpacked(grammar.TABLES_FILE.read_bytes()), unpacked(grammar.pack_tables())
    assert isinstance(kept, dict)
    assert isinstance(made, dict)
    assert kept["for"] == made["for"], "the grammar has changed: run `python -m proclang.syntax.grammar`"
    # Lark numbers its states in an order of its own, so the tables are compared by their size.
    for part in ("states", "rules"):
        assert len(kept["tables"][part]) == len(made["tables"][part])
    for part in ("words", "joined", "name", "patterns"):
        assert kept["tables"][part] == made["tables"][part]


def test_tables_of_another_grammar_are_not_used(monkeypatch: pytest.MonkeyPatch) -> None:
    text = grammar.grammar_text()
    assert grammar._kept_tables(text) is not None
    assert grammar._kept_tables(text + "// edited\n") is None


@pytest.mark.parametrize("content", [b"", b"not packed", zlib.compress(b"[1")])
def test_damaged_tables_are_made_anew(content: bytes, monkeypatch: pytest.MonkeyPatch, tmp_path) -> None:  # type: ignore[no-untyped-def]
    damaged = tmp_path / "tables.bin"
    damaged.write_bytes(content)
    monkeypatch.setattr(grammar, "TABLES_FILE", damaged)
    assert grammar._kept_tables(grammar.grammar_text()) is None
