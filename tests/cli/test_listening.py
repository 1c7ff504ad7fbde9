"""From ear ratings to weights of one's own, and back into the study."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from optimiser.scoring import MEASURE_VERSION, SHIPPED_WEIGHTS, PartWeights, score_of_steps

Ask = Callable[..., Any]
Say = Callable[..., str]

PARTS = ("tone", "dynamics", "attack", "residual", "texture", "decay", "noise")
AN_EAR = PartWeights(tone=0.2, dynamics=3.0, attack=2.5, residual=1.0, texture=0.3, decay=0.2, noise=0.2)
RIFFS = "riffs=run,chugs,two-note,held chord"
AS_SET = ("--set", "gain=1:00", "--set", "stage=full", "--set", "mic=rim", "--set", RIFFS)


def with_rated_trials(ask: Ask, sheet: Path, tmp_path: Path, count: int, ear: PartWeights = AN_EAR) -> None:
    """A study whose trials were scored by the shipped weights and rated by an ear that has others."""
    ask("start", sheet)
    ask("export", "club-amp", tmp_path / "empty.json")
    document = json.loads((tmp_path / "empty.json").read_text())
    rng = np.random.default_rng(2)
    settings = {"gain": 13.0, "stage": "full", "mic": "rim", "riffs": ["run", "chugs", "two-note", "held chord"]}
    for number in range(1, count + 1):
        steps = rng.lognormal(0.3, 0.7, 7).tolist()
        rating = round(2 * min(10.0, max(0.0, (score_of_steps(steps, ear) + rng.normal(0, 4)) / 10))) / 2
        shipped = zip(PARTS, steps, SHIPPED_WEIGHTS.in_order(), strict=True)
        kept = {
            "parts": [{"name": part, "steps": step, "weight": weight} for part, step, weight in shipped],
            "parts_without": [[step * (1 + 0.02 * row) for step in steps] for row in range(10)],
            "measure_version": MEASURE_VERSION,
        }
        trial = {"trial": number, "settings": settings, "match": score_of_steps(steps), "match_se": 1.0, "ear": rating}
        body = {"trial": trial, "asked": None, "details": kept}
        document["events"].append({"kind": "measured", "body": body, "at": "2026-03-02T10:00:00+00:00"})
    document["events"][0]["body"]["sheet"]["study"]["name"] = "rated"
    (tmp_path / "rated.json").write_text(json.dumps(document))
    ask("import-study", tmp_path / "rated.json")


def trials_of(ask: Ask, study: str, tmp_path: Path) -> list[dict[str, Any]]:
    """Every trial as it is shown."""
    ask("export", study, tmp_path / "shown.json")
    trials: list[dict[str, Any]] = json.loads((tmp_path / "shown.json").read_text())["trials"]
    return trials


def test_ratings_give_weights_and_the_sheet_takes_them(ask: Ask, sheet: Path, tmp_path: Path) -> None:
    with_rated_trials(ask, sheet, tmp_path, 45)
    told = ask("ears", "rated")
    assert told["pairs"] == 45
    assert told["better"]
    assert told["fitted"]["rms"] < told["shipped"]["rms"] < 100
    assert ask("ears", "rated") == told
    before = {trial["trial"]: trial for trial in trials_of(ask, "rated", tmp_path)}

    own = tmp_path / "own.toml"
    own.write_text(sheet.read_text().replace("club-amp", "rated") + told["toml"])
    assert ask("start", own)["changed"]
    fitted = PartWeights(**{part["part"]: part["fitted"] for part in told["parts"]})
    for trial in trials_of(ask, "rated", tmp_path):
        steps = [part["steps"] for part in trial["parts"]]
        assert trial["match"] == pytest.approx(score_of_steps(steps, fitted))
        assert [part["weight"] for part in trial["parts"]] == list(fitted.in_order())
        assert trial["ear"] == before[trial["trial"]]["ear"]
    assert [part["in_use"] for part in ask("ears", "rated")["parts"]] == list(fitted.in_order())

    own.write_text(sheet.read_text().replace("club-amp", "rated"))
    ask("start", own)
    assert {trial["trial"]: trial for trial in trials_of(ask, "rated", tmp_path)} == before


def test_the_answer_for_people_names_verdict_lines_and_next_command(
    ask: Ask, say: Say, sheet: Path, tmp_path: Path
) -> None:
    with_rated_trials(ask, sheet, tmp_path, 14, SHIPPED_WEIGHTS)
    said = say("ears", "rated")
    assert "do not predict your ears better than the shipped ones; keep those" in " ".join(said.split())
    assert "14 rated pairs are few" in said
    assert "BS.1116-3" in said
    assert "    [match.weights]\n    tone = " in said
    assert said.splitlines()[-1] == "Then: optimiser start SHEET.toml"


def test_too_few_ratings_are_refused_in_one_line(
    ask: Ask, say: Say, sheet: Path, recordings: tuple[Path, Path]
) -> None:
    ask("start", sheet)
    ask("take", "club-amp", *recordings, *AS_SET, "--ear", 8)
    assert ask("ears", "club-amp", code=3)["error"]["code"] == "bad_input"
    assert "Rated pairs: 1;" in say("ears", "club-amp", code=3)
    assert ask("ears", "nothing", code=4)["error"]["code"] == "not_found"


def test_blind_tests_are_fitted_too_and_told_with_the_chance_of_guessing(
    ask: Ask, say: Say, sheet: Path, tmp_path: Path
) -> None:
    with_rated_trials(ask, sheet, tmp_path, 14)
    alone = ask("ears", "rated")
    told = ask("ears", "rated", "--blind", "2=12/16", "--blind", "9=5/10")
    assert (alone["pairs"], told["pairs"]) == (14, 16)
    assert told["blind_tests"] == [
        {"trial": 2, "correct": 12, "tries": 16, "chance_of_guessing": pytest.approx(0.0384, abs=5e-5)},
        {"trial": 9, "correct": 5, "tries": 10, "chance_of_guessing": pytest.approx(0.6230, abs=5e-5)},
    ]
    said = " ".join(say("ears", "rated", "--blind", "2=12/16").split())
    assert "trial 2, 12 right of 16; guessing does as well in 4 % of tests." in said


@pytest.mark.parametrize(
    ("word", "code", "message"),
    [
        ("2", 2, "says nothing"),
        ("2=12", 2, "is no blind test"),
        ("two=1/2", 2, "is no blind test"),
        ("2=17/16", 3, "17 right of 16 cannot be"),
        ("2=0/0", 3, "0 right of 0 cannot be"),
        ("99=12/16", 3, "Trial 99 has no two recordings"),
    ],
)
def test_blind_tests_that_cannot_be_are_refused(
    ask: Ask, sheet: Path, tmp_path: Path, word: str, code: int, message: str
) -> None:
    with_rated_trials(ask, sheet, tmp_path, 12)
    assert message in ask("ears", "rated", "--blind", word, code=code)["error"]["message"]


def test_takes_keep_their_steps_and_are_rescored_with_the_goal(
    ask: Ask, sheet: Path, recordings: tuple[Path, Path], tmp_path: Path
) -> None:
    ask("start", sheet)
    first = ask("take", "club-amp", *recordings, *AS_SET)
    ask("goal", "club-amp", recordings[0])
    second = ask("take", "club-amp", *recordings, *AS_SET)
    assert first["match"] == second["match"] == second["goal"]
    sheet.write_text(
        sheet.read_text() + "[match.weights]\n" + "".join(f"{part} = {int(part == 'tone')}\n" for part in PARTS)
    )
    ask("start", sheet)
    tone = next(part["steps"] for part in first["parts"] if part["name"] == "tone")
    for trial in trials_of(ask, "club-amp", tmp_path):
        assert trial["match"] == pytest.approx(100 / (1 + tone**2 / 36))
        assert trial["goal"] == pytest.approx(100 / (1 + tone**2 / 36))
        assert trial["match"] != pytest.approx(first["match"])
        assert trial["match_se"] > 0
    ask("export", "club-amp", tmp_path / "all.json")
    events = json.loads((tmp_path / "all.json").read_text())["events"]
    assert [event["body"]["trial"]["match"] for event in events if event["kind"] == "measured"] == [
        first["match"],
        second["match"],
    ]


def test_takes_without_all_their_steps_are_named(ask: Ask, sheet: Path, tmp_path: Path) -> None:
    with_rated_trials(ask, sheet, tmp_path, 13)
    document = json.loads((tmp_path / "rated.json").read_text())
    document["events"][0]["body"]["sheet"]["study"]["name"] = "older"
    details = [event["body"]["details"] for event in document["events"][1:]]
    del details[0]["parts_without"], details[1]["parts_without"]
    details[2]["measure_version"] = "0"
    (tmp_path / "older.json").write_text(json.dumps(document))
    ask("import-study", tmp_path / "older.json")
    told = ask("ears", "older")
    assert told["pairs"] == 12
    assert [remark.split(" will ")[0].split(" left ")[0] for remark in told["remarks"][1:]] == [
        "Trial 3",
        "Trials 1, 2",
        "Trial 3",
    ]
