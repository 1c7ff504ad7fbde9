"""Excerpts that differ in nothing but the sound, and blind tests that keep their secret."""

import io
import json
import re
from typing import Any

import numpy as np
import pytest
import soundfile
from scipy.stats import binom
from starlette.testclient import TestClient

from optimiser.storage import Store

EXCERPT = "/api/studies/rehearsal/excerpts/1"
TESTS = "/api/studies/rehearsal/blind-tests"


def clip(client: TestClient, path: str) -> tuple[Any, bytes]:
    answered = client.get(path)
    assert answered.status_code == 200, answered.text
    samples, rate_hz = soundfile.read(io.BytesIO(answered.content), always_2d=True)
    assert rate_hz == 48_000
    assert soundfile.info(io.BytesIO(answered.content)).subtype == "PCM_24"
    return samples, answered.content


def test_both_clips_are_aligned_and_equally_long_and_loud(client: TestClient) -> None:
    """Loudness by pyloudnorm with its DeMan filter, which is none of ours [its own tests compare it with BS.1770]."""
    import pyloudnorm

    told = client.get(EXCERPT).json()
    reference, capture = (
        clip(client, f"/api/studies/rehearsal/excerpts/{told['clips'][part]}")[0] for part in told["clips"]
    )
    assert reference.shape == capture.shape
    assert len(reference) == pytest.approx(8 * 48_000, abs=2)
    meter = pyloudnorm.Meter(48_000, filter_class="DeMan")
    loudness = [meter.integrated_loudness(samples) for samples in (reference, capture)]
    assert loudness[0] == pytest.approx(loudness[1], abs=0.1)
    assert loudness[0] == pytest.approx(told["loudness_lkfs"], abs=0.15)
    spectra = [np.fft.rfft(samples[:, 0]) for samples in (reference, capture)]
    lag = int(np.argmax(np.fft.irfft(spectra[1] * np.conj(spectra[0]))))
    assert min(lag, len(reference) - lag) <= 2
    assert max(np.abs(reference).max(), np.abs(capture).max()) < 10 ** (-0.9 / 20)


def test_another_stretch_may_be_asked_for(client: TestClient) -> None:
    told = client.get(f"{EXCERPT}?start_s=2.5&seconds=3").json()
    assert (told["start_s"], told["seconds"]) == (2.5, 3.0)
    for wrong in ("seconds=31", "seconds=0.5", "seconds=nan", "start_s=-1", "start_s=inf", "start_s=x"):
        assert client.get(f"{EXCERPT}?{wrong}").status_code == 422, wrong
    assert client.get(f"{EXCERPT}?start_s=1700").status_code == 400
    assert client.get("/api/studies/rehearsal/excerpts/4").status_code == 400


def test_nothing_tells_x_before_the_answer_and_the_answer_does(client: TestClient, store: Store) -> None:
    begun = client.post(TESTS, json={"trial": 1, "tries": 5, "seconds": 2})
    assert begun.status_code == 201
    test = begun.json()["blind_test"]
    hidden = store.blind_tests.get("rehearsal", test).hidden
    for number, letter in enumerate(hidden, start=1):
        played = {name: client.get(f"{TESTS}/{test}/{number}/{name}.wav") for name in "abx"}
        assert {answered.status_code for answered in played.values()} == {200}
        assert len({answered.headers["content-length"] for answered in played.values()}) == 1
        assert len({answered.content for answered in played.values()}) == 3
        assert {frozenset(answered.headers) for answered in played.values()} == {frozenset(played["x"].headers)}
        sounds = {name: soundfile.read(io.BytesIO(answered.content))[0] for name, answered in played.items()}
        assert np.abs(sounds["x"] - sounds[letter]).max() < 3 * 2.0**-23
        told = [
            client.get(f"{TESTS}/{test}").text,
            client.get("/api/studies/rehearsal").text,
            client.get("/api/studies/rehearsal/history").text,
            client.get("/api/studies/rehearsal/export").text,
            client.get("/api/events?after=0").text,
        ]
        assert not [text for text in told if '"hidden"' in text or '"x"' in text]
        side = {"a": "reference", "b": "capture"}[letter]
        answered = client.post(f"{TESTS}/{test}/answers", json={"try": number, "answer": side}).json()
        assert (answered["x"], answered["right"], answered["answered"]) == (side, True, number)
    assert answered["state"] == "finished"
    assert answered["chance_of_guessing"] == pytest.approx(binom.sf(4, 5, 0.5))
    assert answered["verdict"].startswith("Told apart: 5 right of 5")
    heard = client.get("/api/studies/rehearsal/export").json()["events"][-1]
    assert (heard["kind"], heard["body"]["hidden"], heard["body"]["answers"]) == ("heard", hidden, hidden)
    assert "blind test, 5 right of 5" in json.dumps(client.get("/api/studies/rehearsal/history").json())


def test_guessing_shows_no_difference_and_stopping_shows_nothing(client: TestClient, store: Store) -> None:
    test = client.post(TESTS, json={"trial": 1, "tries": 8, "seconds": 1}).json()["blind_test"]
    hidden = store.blind_tests.get("rehearsal", test).hidden
    for number, letter in enumerate(hidden, start=1):
        right = number <= 6
        side = {"a": "reference", "b": "capture"}[letter if right else "ab".replace(letter, "")]
        told = client.post(f"{TESTS}/{test}/answers", json={"try": number, "answer": side}).json()
        assert told["verdict"] == "" or number == 8
    assert told["verdict"].startswith("No difference shown: 6 right of 8; guessing does as well in 14.5 %")
    begun = client.post(TESTS, json={"trial": 1, "tries": 8, "seconds": 1}).json()["blind_test"]
    client.post(f"{TESTS}/{begun}/answers", json={"try": 1, "answer": "capture"})
    stopped = client.post(f"{TESTS}/{begun}/stop", json={}).json()
    assert stopped["verdict"].startswith("Not finished: 1 of 8")
    assert client.post(f"{TESTS}/{begun}/answers", json={"try": 2, "answer": "capture"}).status_code == 400
    kinds = [event["kind"] for event in client.get("/api/studies/rehearsal/history").json()["events"]]
    assert kinds[-2:] == ["heard", "heard"]


def test_the_same_key_begins_one_test(client: TestClient) -> None:
    body = {"trial": 1, "tries": 5, "seconds": 1}
    first, second = (client.post(TESTS, json=body, headers={"Idempotency-Key": "k"}).json() for _ in range(2))
    assert first == second
    assert client.post(TESTS, json=body).json()["blind_test"] != first["blind_test"]


def test_tries_come_one_after_the_other(client: TestClient) -> None:
    test = client.post(TESTS, json={"trial": 1, "tries": 5, "seconds": 1}).json()["blind_test"]
    assert client.get(f"{TESTS}/{test}/2/x.wav").status_code == 400
    assert client.post(f"{TESTS}/{test}/answers", json={"try": 2, "answer": "capture"}).status_code == 400
    assert client.get(f"{TESTS}/{test}/1/y.wav").status_code == 422
    for wrong in ({"tries": 4}, {"tries": 101}, {"trial": 0}, {"seconds": 31}):
        assert client.post(TESTS, json={"trial": 1, "tries": 8} | wrong).status_code == 422
    assert client.post(TESTS, json={"trial": 4}).status_code == 400
    assert client.get(f"/api/studies/elsewhere/blind-tests/{test}").status_code == 404


def test_finished_tests_feed_the_weights_by_ear(client: TestClient, store: Store) -> None:
    from optimiser.study import fold

    test = client.post(TESTS, json={"trial": 2, "tries": 5, "seconds": 1}).json()["blind_test"]
    for number in range(1, 6):
        client.post(f"{TESTS}/{test}/answers", json={"try": number, "answer": "capture"})
    correct = store.blind_tests.get("rehearsal", test).correct
    assert fold(store.events("rehearsal")).heard == {2: (correct, 5)}
    told = ears(store)
    client.post("/api/studies/rehearsal/trials/2/void", json={})
    assert (told, ears(store)) == (1, 0)


def ears(store: Store) -> int:
    """How many ratings there are, said in the refusal of too few."""
    from optimiser.errors import BadInput
    from optimiser.workflow import weights_by_ear

    with pytest.raises(BadInput) as few:
        weights_by_ear(store, "rehearsal")
    return int(re.findall(r"\d+", few.value.message)[0])
