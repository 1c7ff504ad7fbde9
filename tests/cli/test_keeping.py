"""Keeping a store safe, in a terminal; and stores that cannot be used, told in one line and left as they are."""

import json
import os
import random
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from optimiser.cli import run

Ask = Callable[..., Any]
Say = Callable[..., str]


@pytest.fixture
def hunt(ask: Ask, sheet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A study with three trials, made in the folder that is also where the terminal stands."""
    monkeypatch.chdir(tmp_path)
    ask("start", sheet)
    for turn in range(3):
        words = ["--set", f"gain={9 + turn}:00", "--set", "stage=open", "--set", "mic=cap"]
        ask("log", "club-amp", *words, "--set", "riffs=chugs,held chord,run,two-note", "--overall", 50 + turn)
    return tmp_path / "optimiser.db"


def test_before_a_gig_and_after_a_disaster(hunt: Path, say: Say, ask: Ask, tmp_path: Path) -> None:
    """Back up, lose the store, recover, go on; every line as it is printed."""
    (tmp_path / "stick").mkdir()
    said = say("backup", "stick/gig.db").splitlines()
    assert said[:3] == [
        "Backup written and verified: stick/gig.db",
        "Its recordings:              stick/gig.db.audio",
        f"  ledger      1 study, 4 events, {os.path.getsize('stick/gig.db') / 1e3:.1f} kB, none missing",
    ]
    before = ask("studies")
    hunt.unlink()
    assert say("recover", "stick/gig.db").splitlines() == [
        "Recovered, whole and verified: optimiser.db",
        "  ledger      1 study, 4 events",
        "  recordings  0 copied, 0 bytes; 0 there already, whole",
        "Next: optimiser studies",
    ]
    assert ask("studies") == before
    assert say("doctor").splitlines()[-1] == "Nothing is wrong."
    assert ask("next", "club-amp")["proposals"]


def test_a_damaged_store_is_told_diagnosed_and_recovered_under_its_own_name(hunt: Path, say: Say, ask: Ask) -> None:
    data = bytearray(hunt.read_bytes())
    data[100:4096] = bytes(3996)
    hunt.write_bytes(data)
    for words in (["studies"], ["doctor"], ["next", "club-amp"], ["backup", "gig.db"]):
        said = " ".join(say(*words, code=5).split())
        assert "is damaged" in said
        assert f"optimiser recover {hunt} " in said
        assert hunt.read_bytes() == data
    said = say("recover", "optimiser.db")
    assert said.startswith("Damaged; recovered what can be read: optimiser.db\n")
    assert "What lay there before is now:\n  optimiser.db.before-" in said
    assert [study["name"] for study in ask("studies")["studies"]] == ["club-amp"]
    assert len(ask("history", "club-amp")["events"]) == 4
    (aside,) = hunt.parent.glob("optimiser.db.before-*")
    assert aside.read_bytes() == data


def test_a_fault_ends_with_the_exit_code_of_storage_and_one_document(
    hunt: Path, ask: Ask, say: Say, recordings: tuple[Path, Path]
) -> None:
    ask("goal", "club-amp", recordings[0])
    (kept,) = (path for path in (hunt.parent / "optimiser.db.audio").rglob("*") if path.is_file())
    kept.write_bytes(b"?")
    for words in (["doctor"], ["doctor", "--fix"]):
        view = ask(*words, code=5)
        assert view["error"]["code"] == "storage"
        assert [finding["about"] for finding in view["findings"]] == ["recordings"]
    assert "1 fault found" in say("doctor", code=5)
    view = ask("backup", "gig.db", code=5)
    assert view["recordings"]["lost"][0]["name"] == "reference.wav"
    assert "1 recording is missing or damaged" in view["error"]["message"]
    assert (hunt.parent / "gig.db").is_file()


def test_a_store_moves_and_says_what_to_do_then(
    hunt: Path, say: Say, ask: Ask, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    before = ask("history", "club-amp")
    capsys.readouterr()
    assert run(["move", "--to", "moved.db"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "Copied and verified: moved.db"
    assert said[2] == "  ledger      1 study, 4 events"
    assert [line.split("=")[0].strip() for line in said[-2:]] == ["export OPTIMISER_STORE", "export OPTIMISER_AUDIO"]
    monkeypatch.setenv("OPTIMISER_STORE", str(hunt.parent / "moved.db"))
    assert ask("history", "club-amp") == before
    assert "moved.db is the store itself" in " ".join(say("move", "--to", "moved.db", code=2).split())


def test_what_may_not_be_overwritten_is_told(hunt: Path, say: Say, tmp_path: Path) -> None:
    (tmp_path / "taken.db").write_bytes(b"yours")
    assert "--replace" in say("backup", "taken.db", code=2)
    assert "left alone" in say("backup", "taken.db", "--replace", code=2)
    assert "Name a file in it" in say("backup", ".", code=2)
    assert "no file missing.db" in say("recover", "missing.db", code=4)
    assert "move --to" in say("backup", "postgresql://me@studio/x", code=2)
    assert (tmp_path / "taken.db").read_bytes() == b"yours"
    assert hunt.is_file()


USES = (["studies"], ["doctor", "--fix"], ["backup", "gig.db"], ["move", "--to", "moved.db"], ["next", "club-amp"])


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """What is wrong and how to mend it, in which a command ends with exit code 5."""
    capsys.readouterr()
    assert run(words) == 5, capsys.readouterr()
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err
    assert run([*words, "--json"]) == 5
    document = json.loads(capsys.readouterr().out)["error"]
    assert (document["code"], bool(document["hint"])) == ("storage", True)
    assert said.err.split() == f"{document['message']} {document['hint']}".split()
    assert "\n" not in document["message"] + document["hint"]
    return str(document["message"])


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, "There is no store"),
        (b"", "is empty"),
        (b"garbage " * 2000, "is damaged or is not a store"),
        (random.Random(5).randbytes(40_000), "is damaged or is not a store"),  # noqa: S311
    ],
    ids=["missing", "empty", "garbage", "noise"],
)
def test_a_store_that_is_none_is_told_by_every_command(
    capsys: pytest.CaptureFixture[str], store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    content: bytes | None, says: str,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    if content is not None:
        store.write_bytes(content)
    for words in USES[1:4] if content is None else USES:
        assert says in refused(capsys, *words)
        assert (store.read_bytes() if store.exists() else None) == content
    assert {path.name for path in tmp_path.iterdir()} <= {store.name}


def test_a_store_cut_off_at_fifty_lengths_is_told_by_every_command_and_left_alone(
    capsys: pytest.CaptureFixture[str], hunt: Path
) -> None:
    whole = hunt.read_bytes()
    for turn, length in enumerate(random.Random(6).sample(range(1, len(whole)), 50)):  # noqa: S311
        hunt.write_bytes(whole[:length])
        words = USES[turn % len(USES)]
        refused(capsys, *words)
        assert hunt.read_bytes() == whole[:length], (words, length)
    assert not (hunt.parent / "gig.db").exists()


@pytest.fixture
def as_nobody(hunt: Path) -> Iterator[Callable[[], None]]:
    """Gives up the powers of root, for whom every file can be written."""
    opened = [folder for folder in (hunt.parent, *hunt.parents) if not folder.stat().st_mode & stat.S_IXOTH]
    modes = [(folder, folder.stat().st_mode) for folder in opened]
    for folder, mode in modes:
        folder.chmod(mode | stat.S_IXOTH | stat.S_IROTH)
    root = os.geteuid() == 0

    def become_nobody() -> None:
        if root:
            os.setegid(65534)
            os.seteuid(65534)

    yield become_nobody
    if root:
        os.seteuid(0)
        os.setegid(0)
    for folder, mode in modes:
        folder.chmod(mode)


def test_a_store_that_may_only_be_read_is_told_by_every_command_and_left_alone(
    capsys: pytest.CaptureFixture[str], hunt: Path, as_nobody: Callable[[], None], say: Say
) -> None:
    say("backup", "loads-every-module.db")
    hunt.chmod(0o444)
    before = hunt.read_bytes()
    as_nobody()
    for words in USES:
        assert "cannot be written" in refused(capsys, *words)
    assert hunt.read_bytes() == before


@pytest.mark.parametrize(
    "words",
    [
        ("next", "club-amp"),
        ("plan", "club-amp", "--hours", "1"),
        ("log", "club-amp", "--ear", "7"),
        ("take", "club-amp", "reference.wav", "capture.wav"),
        ("goal", "club-amp", "goal.wav"),
        ("reel", "club-amp", "--out", "reel.wav"),
        ("review", "club-amp"),
        ("history", "club-amp"),
        ("doctor",),
    ],
    ids=lambda words: words[0],
)
def test_a_slip_in_the_name_of_the_store_makes_no_empty_one(tmp_path: Path, ask: Ask, words: tuple[str, ...]) -> None:
    before = sorted(tmp_path.iterdir())
    refused = ask(*words, "--store", tmp_path / "slipped.db", code=5)["error"]
    assert refused["message"] == f"There is no store at {tmp_path / 'slipped.db'}."
    assert ask("studies", "--store", tmp_path / "slipped.db") == {"studies": []}
    assert sorted(tmp_path.iterdir()) == before
