"""The whole pretend chain: settings and dry files in, recordings and the device's number out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from optimiser.errors import BadInput
from optimiser.rehearsal.amplifier import Amplifier, amplify
from optimiser.rehearsal.capture import learn
from optimiser.rehearsal.device_model import CaptureDevice
from optimiser.rehearsal.hands import NO_ERRORS, Errors, as_file, drift_of, stand_mic, start_learning, turn_knob
from optimiser.rehearsal.loudspeaker import Loudspeaker
from optimiser.rehearsal.microphone import Place, Room, impulse_response, pressure
from optimiser.rehearsal.sheet import FAVOURITE_SETTINGS, REHEARSAL_SHEET
from optimiser.space import AXES, Knob, MicSpot, Settings, Value
from optimiser.study import StudySheet, load_sheet

Array = NDArray[np.float64]

TAIL_SAMPLES: Final = 12_000
"""A quarter of a second that the recorder runs on after the reel has ended."""

_HANDS, _LESSONS, _PROOF, _FILES, _START = range(5)


@dataclass(frozen=True)
class Chain:
    """The chain as it really stands for one trial.

    Attributes:
        amplifier: with the day's drift in it.
        gain_hours: where the gain knob really is.
        stage: the voicing stage.
        place: where the microphone really is.
        response: (m,) impulse response from loudspeaker to microphone.
        input_hiss: rms of the hiss in front of the amplifier.
        preamp_hiss: rms of the microphone preamp's hiss.
    """

    amplifier: Amplifier
    gain_hours: float
    stage: str
    place: Place
    response: Array
    input_hiss: float
    preamp_hiss: float

    def record(self, di: Array, rng: np.random.Generator) -> Array:
        """(n,) samples at the recorder from (n,) dry samples."""
        hissing = di + rng.normal(0.0, self.input_hiss, len(di))
        voltage = amplify(hissing, self.gain_hours, self.stage, self.amplifier)
        return pressure(voltage, self.response) + rng.normal(0.0, self.preamp_hiss, len(di))


@dataclass(frozen=True)
class RehearsalTake:
    """What one trial on the rehearsal amp gives.

    Attributes:
        reference: (n + 12000,) samples at 48 kHz, the chain's recording of the proof reel.
        capture: (n + 12000,) samples at 48 kHz, the model's rendering of it.
        reading: the number that the device shows, 0 to 10.
        set_really: what was really set, hands and days included.
    """

    reference: Array
    capture: Array
    reading: float
    set_really: Settings


@dataclass(frozen=True)
class RehearsalAmp:
    """A chain to try a hunt on. Its parts may be exchanged; `BEST_SETTINGS` holds for the defaults.

    Attributes:
        amplifier: the amplifier's fixed parts.
        loudspeaker: loudspeaker and cabinet.
        room: cone, floor and microphone.
        device: the capture device.
        errors: how hands, days, files and the device are off.
        day_seed: another seed gives other days.
        input_hiss: rms of the hiss in front of the amplifier, full scale 1.
        preamp_hiss: rms of the microphone preamp's hiss, the loudspeaker at full power being about 0.2.
        trim_peak: peak that the recorder is trimmed to.
    """

    amplifier: Amplifier = field(default_factory=Amplifier)
    loudspeaker: Loudspeaker = field(default_factory=Loudspeaker)
    room: Room = field(default_factory=Room)
    device: CaptureDevice = field(default_factory=CaptureDevice)
    errors: Errors = field(default_factory=Errors)
    day_seed: int = 0
    input_hiss: float = 1e-5
    preamp_hiss: float = 2e-5
    trim_peak: float = 0.5

    @cached_property
    def sheet(self) -> StudySheet:
        """The rehearsal's study sheet, read."""
        return load_sheet(REHEARSAL_SHEET)

    def take(
        self,
        settings: Mapping[str, Value],
        learning: Sequence[tuple[str, Array]],
        proof: Array,
        *,
        seed: int,
        day: int = 0,
        exact: bool = False,
    ) -> RehearsalTake:
        """Set the chain, let the device learn, and record the proof reel through both.

        Args:
            settings: gain, stage, mic and riffs, as the rehearsal's sheet has them.
            learning: name and (n,) dry samples of each riff, in the order of `settings["riffs"]`.
            proof: (n,) the dry proof reel at 48 kHz.
            seed: decides what the hands do, the hiss, and how the files are off.
            day: number of the day; every day the chain has drifted a little elsewhere.
            exact: none of these errors, and one hiss whatever the seed: the truth in a benchmark.

        Raises:
            InvalidSettings: settings that the sheet cannot read.
            BadInput: riffs in another order than the settings say, or sounds that cannot be played.
        """
        wanted = self.sheet.space.parse(settings)
        _check_sounds(wanted, learning, proof)
        chain = self.set_up(wanted, seed=seed, day=day, exact=exact)
        seed, errors = (0, NO_ERRORS) if exact else (seed, self.errors)
        lessons = []
        for name, di in learning:
            long = _with_tail(di)
            lessons.append((long, chain.record(long, np.random.default_rng([seed, _LESSONS, *name.encode()]))))
        model = learn(lessons, start_learning(self.device, errors, np.random.default_rng([seed, _START])))
        reference = self._recorded(chain, proof, seed, exact=exact)
        capture = self._trimmed(model.play(_with_tail(proof)))
        if not exact:
            capture = as_file(capture, errors, np.random.default_rng([seed, _FILES]), may_turn=True)
        return RehearsalTake(reference, capture, model.reading, _set_really(wanted, chain))

    def goal_reference(self, proof: Array, *, seed: int, day: int = 0, exact: bool = False) -> Array:
        """(n + 12000,) samples: the proof reel recorded through the chain at the favourite settings of the room.

        Raises:
            BadInput: a proof reel that cannot be played.
        """
        _check_sound("the proof reel", proof)
        chain = self.set_up(FAVOURITE_SETTINGS, seed=seed, day=day, exact=exact)
        return self._recorded(chain, proof, 0 if exact else seed, exact=exact)

    def set_up(self, settings: Mapping[str, Value], *, seed: int, day: int, exact: bool) -> Chain:
        """The chain as hands and the day really leave it for these settings of gain, stage and mic."""
        errors = NO_ERRORS if exact else self.errors
        rng = np.random.default_rng([seed, _HANDS])
        knob, mic = cast(Knob, self.sheet.space.by_name["gain"]), cast(MicSpot, self.sheet.space.by_name["mic"])
        drift = drift_of(day, errors, self.day_seed)
        gain_hours = turn_knob(cast(float, settings["gain"]), knob.tolerance, errors, rng)
        saved = Place(*cast(tuple[float, float, float], mic.place_of(settings["mic"])))
        stood = stand_mic(saved, mic.tolerance, errors, rng)
        place = Place(stood.radial_mm + drift.radial_mm, stood.distance_mm + drift.distance_mm, stood.angle_deg)
        drifted = replace(
            self.amplifier,
            first_db=self.amplifier.first_db + drift.gain_db,
            treble_db=self.amplifier.treble_db + drift.treble_db,
        )
        response = impulse_response(self.loudspeaker, place, self.room)
        stage = cast(str, settings["stage"])
        return Chain(drifted, gain_hours, stage, place, response, self.input_hiss, self.preamp_hiss)

    def _recorded(self, chain: Chain, proof: Array, seed: int, *, exact: bool) -> Array:
        recorded = self._trimmed(chain.record(_with_tail(proof), np.random.default_rng([seed, _PROOF])))
        if exact:
            return recorded
        return as_file(recorded, self.errors, np.random.default_rng([seed, _FILES, _PROOF]), may_turn=False)

    def _trimmed(self, samples: Array) -> Array:
        return samples * (self.trim_peak / max(float(np.max(np.abs(samples))), 1e-9))


def _with_tail(samples: Array) -> Array:
    return np.concatenate([samples, np.zeros(TAIL_SAMPLES)])


def _set_really(wanted: Settings, chain: Chain) -> Settings:
    place = dict(zip(AXES, (chain.place.radial_mm, chain.place.distance_mm, chain.place.angle_deg), strict=True))
    return {**wanted, "gain": chain.gain_hours, "mic": place}


def _check_sounds(settings: Settings, learning: Sequence[tuple[str, Array]], proof: Array) -> None:
    order = [name for name, _ in learning]
    if order != settings["riffs"]:
        raise BadInput(
            f"The riffs come as {', '.join(order)}, the settings say {', '.join(cast(list[str], settings['riffs']))}.",
            "Hand the riffs over in the order of the settings.",
        )
    for name, samples in (*learning, ("the proof reel", proof)):
        _check_sound(name, samples)


def _check_sound(name: str, samples: Array) -> None:
    if samples.ndim != 1 or len(samples) == 0:
        raise BadInput(f"The sound of {name} has the shape {samples.shape}.", "Give one channel of samples.")
    if not np.all(np.isfinite(samples)) or not np.any(samples):
        raise BadInput(f"The sound of {name} is silent or not finite.", "Give a dry recording.")
