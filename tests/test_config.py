"""A flag wins over the environment, the environment over the default."""

from pathlib import Path

import pytest

from optimiser.config import default_store, load_config
from optimiser.errors import BadUse


@pytest.fixture(autouse=True)
def no_variables(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("OPTIMISER_STORE", "OPTIMISER_AUDIO"):
        monkeypatch.delenv(name, raising=False)


def test_the_default_lies_in_the_users_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    config = load_config()
    assert config.store == default_store()
    assert config.audio is None


def test_a_flag_wins_over_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OPTIMISER_STORE", "/from/environment.db")
    monkeypatch.setenv("OPTIMISER_AUDIO", "/from/environment")
    assert load_config().store == "/from/environment.db"
    assert load_config().audio == Path("/from/environment")
    assert load_config(store="/from/flag.db").store == "/from/flag.db"
    assert load_config(audio=Path("/from/flag")).audio == Path("/from/flag")


def test_an_empty_variable_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OPTIMISER_STORE", "")
    assert load_config().store == default_store()


def test_other_variables_of_the_tool_do_no_harm(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OPTIMISER_DEBUG", "1")
    assert load_config().audio is None


def test_an_empty_flag_is_told() -> None:
    with pytest.raises(BadUse, match="store cannot be used") as caught:
        load_config(store="")
    assert "OPTIMISER_STORE" in caught.value.hint
