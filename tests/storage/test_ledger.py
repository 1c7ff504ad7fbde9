"""What was appended is there, once, in order, as it was; on every kind of database."""

import ast
import math
import re
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import optimiser.storage
from optimiser.errors import BadInput, BadUse, Busy, NotFound
from optimiser.storage import Store, open_store
from optimiser.study import Event

AT = "2026-03-02T10:00:00+00:00"
CHANGES = re.compile(r"\s*(UPDATE\s+\w+\s+SET|DELETE\s+FROM|REPLACE\s+INTO)\b", re.IGNORECASE)
TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
EVENTS = st.builds(
    Event, kind=TEXTS, body=st.dictionaries(st.text(max_size=8), JSON, max_size=4), at=TEXTS, actor=TEXTS, reason=TEXTS
)


def measured(key: str = "", **body: Any) -> Event:
    return Event("measured", body, AT, "somebody", key=key)


def append(store: Store, *events: Event, study: str = "combo") -> tuple[Event, ...]:
    with store.writing():
        return store.append(study, *events)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(events=st.lists(EVENTS, min_size=1, max_size=4))
def test_events_come_back_to_the_bit(store: Store, events: list[Event]) -> None:
    before = len(store.events("combo"))
    stored = append(store, *events)
    assert stored == tuple(replace(event, number=before + place) for place, event in enumerate(events, 1))
    again = store.events("combo")[before:]
    assert again == stored
    assert [repr(event.body) for event in again] == [repr(event.body) for event in events]  # also -0.0 and 1 or 1.0


def test_the_order_of_settings_in_a_sheet_is_kept(store: Store) -> None:
    append(store, measured(settings={"stage": 1, "gain": 2, "mic": 3}))
    assert list(store.events("combo")[-1].body["settings"]) == ["stage", "gain", "mic"]


def test_a_store_that_is_opened_again_holds_the_same(url: str) -> None:
    with open_store(url) as store:
        store.start("combo", Event("started", {"sheet": {"a": 1.5}}, AT))
        append(store, measured(x=0.1), measured(x=0.2))
        before = store.events("combo")
    with open_store(url, create=False) as store:
        assert store.events("combo") == before
        assert [event.number for event in before] == [1, 2, 3]


def test_studies_are_numbered_apart_and_named_in_the_order_of_their_start(store: Store) -> None:
    store.start("bass", Event("started", {}, AT))
    store.start("acoustic", Event("started", {}, AT))
    append(store, measured(), study="bass")
    append(store, measured())
    assert store.study_names() == ("combo", "bass", "acoustic")
    assert [event.number for event in store.events("bass")] == [1, 2]
    assert [event.number for event in store.events("combo")] == [1, 2]


def test_an_event_with_a_known_key_is_not_added_again(store: Store) -> None:
    (first,) = append(store, measured("k", x=1))
    again, other = append(store, measured("k", x=2), measured("l"))
    assert again == first
    assert other.number == first.number + 1
    assert append(store, measured("m", x=3), measured("m", x=4))[1].body == {"x": 3}
    assert len(store.events("combo")) == 4


def test_a_key_counts_within_its_study_and_events_without_one_never_clash(store: Store) -> None:
    store.start("bass", Event("started", {}, AT))
    append(store, measured("k"))
    assert append(store, measured("k"), study="bass")[0].number == 2
    append(store, measured(), measured())
    assert len(store.events("combo")) == 4


def test_starting_twice_with_one_key_is_starting_once(store: Store) -> None:
    event = Event("started", {"sheet": {}}, AT, key="s")
    first = store.start("bass", event)
    assert store.start("bass", event) == first
    assert len(store.events("bass")) == 1


@pytest.mark.parametrize("name", ["a b", "tab\there", "Übung", "'; --", "x" * 300])
def test_a_study_is_found_under_whatever_name_it_was_given(store: Store, name: str) -> None:
    store.start(name, Event("started", {}, AT))
    assert append(store, measured(), study=name)[0].number == 2
    assert store.study_names() == ("combo", name)


@pytest.mark.parametrize("text", ["a\0b", "half \ud83d"])
def test_a_name_or_key_that_no_database_keeps_is_refused(store: Store, text: str) -> None:
    with pytest.raises(BadInput, match="name"):
        store.start(text, Event("started", {}, AT))
    with pytest.raises(BadInput, match="key"):
        store.start("combo", Event("started", {}, AT, key=text))
    assert store.study_names() == ("combo",)


@pytest.mark.parametrize("key", ["", "another"])
def test_a_name_is_given_once(store: Store, key: str) -> None:
    with pytest.raises(BadUse, match="already"):
        store.start("combo", Event("started", {}, AT, key=key))


def test_an_unknown_study_is_told_with_names_that_are_near(store: Store) -> None:
    store.start("bass", Event("started", {}, AT))
    with pytest.raises(NotFound, match=r"no study called 'comboo'") as caught:
        store.events("comboo")
    assert caught.value.hint == "Did you mean combo?"
    with pytest.raises(NotFound), store.writing():
        store.append("Bass", measured())
    with pytest.raises(NotFound):
        store.events("a\0b\udc80")


def test_an_empty_store_says_how_to_begin(url: str) -> None:
    with open_store(url) as store, pytest.raises(NotFound) as caught:
        store.events("combo")
    assert "optimiser start" in caught.value.hint


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_all_events_of_a_call_are_kept_or_none(store: Store, bad: float) -> None:
    with pytest.raises(BadInput, match="not finite"):
        append(store, measured(x=1), measured(x=bad))
    with pytest.raises(BadInput), store.writing():
        store.start("bass", Event("started", {"x": bad}, AT))
    assert len(store.events("combo")) == 1
    assert store.study_names() == ("combo",)
    assert append(store, measured())[0].number == 2


@pytest.mark.parametrize("text", ["a\0b", "half \ud83d"])
@pytest.mark.parametrize("part", ["reason", "actor", "key", "kind", "at"])
def test_a_text_that_no_database_keeps_is_refused(store: Store, part: str, text: str) -> None:
    with pytest.raises(BadInput, match=part):
        append(store, replace(measured(), **{part: text}))  # type: ignore[arg-type]
    assert len(store.events("combo")) == 1


def test_appending_without_the_right_to_write_is_a_fault_of_the_program(store: Store) -> None:
    with pytest.raises(RuntimeError, match="writing"):
        store.append("combo", measured())


def test_the_right_to_write_may_be_asked_for_within_itself(store: Store) -> None:
    with store.writing(), store.writing():
        store.append("combo", measured())
        assert len(store.events("combo")) == 2


def test_an_error_of_the_caller_passes_and_gives_the_right_back(store: Store) -> None:
    def work() -> None:
        with store.writing():
            store.append("combo", measured())
            raise FileNotFoundError("the caller's own")

    with pytest.raises(FileNotFoundError, match="the caller's own"):
        work()
    assert append(store, measured())[0].number == 3


def test_while_one_thread_writes_others_read_and_a_second_writer_is_told(url: str, store: Store) -> None:
    with open_store(url, wait_s=0.2) as second, store.writing():
        store.append("combo", measured())
        caught: list[Exception] = []

        def wait_in_vain() -> None:
            assert len(second.events("combo")) == 2
            try:
                append(second, measured())
            except Busy as busy:
                caught.append(busy)

        thread = threading.Thread(target=wait_in_vain)
        thread.start()
        thread.join()
    (busy,) = caught
    assert isinstance(busy, Busy)
    assert "0.2 s" in busy.message
    assert "try again" in busy.hint


def test_threads_of_one_store_take_turns(store: Store) -> None:
    def work() -> None:
        for _ in range(10):
            with store.writing():
                seen = len(store.events("combo"))
                assert store.append("combo", measured())[0].number == seen + 1

    threads = [threading.Thread(target=work) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [event.number for event in store.events("combo")] == list(range(1, 32))


def test_no_code_of_the_room_changes_or_removes_an_event() -> None:
    """Neither through the library's update and delete, nor in words of SQL."""
    room = Path(next(iter(optimiser.storage.__path__)))
    for path in room.rglob("*.py"):
        nodes = list(ast.walk(ast.parse(path.read_text())))
        names = {alias.name for node in nodes if isinstance(node, ast.ImportFrom) for alias in node.names}
        assert not ({"update", "delete"} & names and {"EVENT", "STUDY", "AUDIO"} & names), path
        for node in nodes:
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "delete":
                raise AssertionError(path)
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                assert not CHANGES.match(node.value), path
