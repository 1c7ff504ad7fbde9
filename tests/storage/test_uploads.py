"""Files that arrive in pieces: whole and as announced, or not there at all."""

import hashlib
import os
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.errors import BadInput, BadUse, NotFound
from optimiser.storage import Store, WrongOffset
from optimiser.storage.uploads import UNFINISHED_S, UNUSED_S, UploadFolder

NOW = datetime.now(UTC)
CONTENT = bytes(range(256)) * 40
SUM = hashlib.sha256(CONTENT).hexdigest()


@pytest.fixture
def uploads(tmp_path: Path) -> UploadFolder:
    return UploadFolder(tmp_path / "uploads")


@settings(deadline=None, max_examples=30)
@given(cuts=st.lists(st.integers(0, len(CONTENT)), max_size=5))
def test_pieces_of_any_size_make_the_file_again(tmp_path_factory: pytest.TempPathFactory, cuts: list[int]) -> None:
    uploads = UploadFolder(tmp_path_factory.mktemp("uploads"))
    upload = uploads.begin("take.wav", len(CONTENT), SUM, NOW)
    places = [0, *sorted(cuts), len(CONTENT)]
    for start, end in pairwise(places):
        upload = uploads.add(upload.id, start, CONTENT[start:end])
        assert upload.offset == end
    assert upload.whole
    assert upload.path.read_bytes() == CONTENT
    assert uploads.add(upload.id, len(CONTENT), b"") == upload


def test_a_piece_sent_twice_or_too_early_is_told_where_to_go(uploads: UploadFolder) -> None:
    upload = uploads.begin("take.wav", len(CONTENT), SUM, NOW)
    uploads.add(upload.id, 0, CONTENT[:100])
    for offset in (0, 99, 101, -1):
        with pytest.raises(WrongOffset) as caught:
            uploads.add(upload.id, offset, CONTENT[:100])
        assert caught.value.offset == 100
    assert uploads.get(upload.id).offset == 100


def test_too_many_bytes_and_another_sum_are_refused(uploads: UploadFolder) -> None:
    upload = uploads.begin("take.wav", 10, SUM, NOW)
    with pytest.raises(BadInput, match="grew beyond the 10 bytes"):
        uploads.add(upload.id, 0, bytes(11))
    with pytest.raises(BadInput, match="arrived damaged"):
        uploads.add(upload.id, 0, bytes(10))
    with pytest.raises(NotFound):
        uploads.get(upload.id)


def test_the_same_key_begins_one_upload(uploads: UploadFolder) -> None:
    first = uploads.begin("take.wav", 10, SUM, NOW, key="k")
    assert uploads.begin("take.wav", 10, SUM, NOW, key="k") == first
    with pytest.raises(BadUse, match="another file"):
        uploads.begin("take.wav", 11, SUM, NOW, key="k")


def test_what_is_left_behind_is_dropped_in_time(uploads: UploadFolder) -> None:
    now = datetime.now(UTC)
    left = uploads.begin("left.wav", 10, SUM, now)
    whole = uploads.begin("whole.wav", len(CONTENT), SUM, now)
    stray = left.path.with_name("0" * 32 + ".part")
    stray.touch()
    uploads.add(whole.id, 0, CONTENT)
    uploads.sweep(now + timedelta(seconds=UNFINISHED_S - 60))
    assert uploads.get(left.id).offset == 0
    uploads.sweep(now + timedelta(seconds=UNFINISHED_S + 60))
    with pytest.raises(NotFound):
        uploads.get(left.id)
    assert not stray.exists()
    assert uploads.get(whole.id).whole
    uploads.sweep(now + timedelta(seconds=UNUSED_S + 60))
    with pytest.raises(NotFound):
        uploads.get(whole.id)


def test_names_are_labels_and_ids_never_paths(uploads: UploadFolder, tmp_path: Path) -> None:
    odd = ("../../etc/passwd", "/abs/olute", "a\0b", "x" * 300, "\u202egnp.exe", "cr\r\nlf", "CON", ".")
    for name in odd:
        upload = uploads.begin(name, 1, hashlib.sha256(b"x").hexdigest(), NOW)
        assert uploads.add(upload.id, 0, b"x").name == name
    for wrong in (*odd, "0" * 31, "0" * 33, "..", f"{upload.id}.json", upload.id.upper() + "G"):
        with pytest.raises(NotFound):
            uploads.get(wrong)
        uploads.drop(wrong)
    assert {path.name for path in tmp_path.iterdir()} == {"uploads"}
    assert len(list((tmp_path / "uploads").glob("*.whole"))) == len(odd)


def test_uploads_lie_beside_the_recordings_and_outlive_the_store(store: Store, url: str) -> None:
    from optimiser.storage import open_store

    upload = store.uploads.begin("take.wav", len(CONTENT), SUM, NOW)
    store.uploads.add(upload.id, 0, CONTENT[:7])
    with open_store(url) as again:
        assert again.uploads.get(upload.id).offset == 7
        whole = again.uploads.add(upload.id, 7, CONTENT[7:])
    assert store.audio.keep(whole.path, name=whole.name).name == "take.wav"
    assert os.path.getsize(store.audio.path(SUM)) == len(CONTENT)
