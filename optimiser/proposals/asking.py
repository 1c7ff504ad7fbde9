"""The front of the room: what to try next, what to expect of it, what to keep, and whether to go on."""

from collections.abc import Mapping, Sequence

from optimiser.errors import BadInput, BadUse
from optimiser.proposals.advisers import able
from optimiser.proposals.belief import Belief, believe
from optimiser.proposals.effort import handling_minutes, shortest_walk, trial_minutes, walk_minutes
from optimiser.proposals.engines import Choice, Wish, choose_own, choose_plain
from optimiser.proposals.ground import Ground
from optimiser.proposals.proposal import Outlook, Prediction, Proposal, Recommendation, RunnerUp
from optimiser.proposals.reasons import advised_reason, explain, first_reason
from optimiser.proposals.recommending import recommendation
from optimiser.proposals.stopping import outlook_of
from optimiser.space import Settings
from optimiser.study import Study, seed_of


def propose(
    study: Study,
    count: int = 1,
    seed: int | None = None,
    present: Mapping[str, object] | None = None,
    locked: Mapping[str, object] | Sequence[str] | None = None,
    day: str | None = None,
    *,
    minutes: float | None = None,
) -> tuple[Proposal, ...]:
    """What to try next.

    Args:
        study: sheet and trials; those waiting count as on their way, those declined never come again.
        count: how many; they are sorted into the shortest walk from the present settings.
        seed: from which every random choice follows; None takes it from the study itself.
        present: how the chain stands now; None takes the trial made last.
        locked: settings to keep with their values, or names of settings to keep as they stand.
        day: ISO date on which the trials are to be made; the first trial of a new day may be a check of an old one.
            None proposes as if no day began.
        minutes: time there is, handling included; as many of `count` as fit are proposed, but at least one. None when
            it does not matter.

    Raises:
        BadUse: a count below 1, or names to keep while nothing is known of how the chain stands.
        InvalidSettings: present or locked settings that do not fit the sheet.
        NothingLeft: no arrangement may be proposed.
    """
    if count < 1:
        raise BadUse(f"Cannot propose {count} trials.", "Ask for 1 or more.")
    standing = _standing(study, present)
    ground = Ground(
        study.sheet.space,
        _locked(study, locked, standing),
        declined=tuple(dict(trial.settings) for trial in study.in_state("declined")),
        made=tuple(dict(trial.settings) for trial in study.in_state("waiting")),
    )
    belief = believe(study)
    new_day = day is not None and all(trial.day != day for trial in study.in_state("measured", "failed"))
    wish = Wish(study, belief, ground, standing, count, _seed(study, belief) if seed is None else seed, new_day)
    choices = choose_plain(wish) if study.sheet.policy.engine == "plain" else choose_own(wish)
    proposals = []
    for choice in _walk(study, choices, standing, minutes):
        proposals.append(_proposal(study, belief, choice, standing))
        standing = choice.settings
    return tuple(proposals)


def predict(study: Study, settings: Mapping[str, object]) -> Prediction:
    """What some settings would give.

    Raises:
        InvalidSettings: settings that do not fit the sheet.
        BadInput: nothing has been measured yet.
    """
    parsed = study.sheet.space.parse(settings)
    return believed(study).predict(parsed)


def recommend(study: Study) -> Recommendation:
    """What to keep now, by belief and not by the luckiest number.

    Raises:
        BadInput: nothing has been measured yet.
    """
    return recommendation(believed(study))


def outlook(study: Study) -> Outlook:
    """What further trials could still gain, and whether to go on, verify or stop.

    Raises:
        BadInput: nothing has been measured yet.
    """
    return outlook_of(believed(study))


def believed(study: Study) -> Belief:
    """The belief that follows from a study's trials.

    Raises:
        BadInput: nothing has been measured yet.
    """
    belief = believe(study)
    if belief is None:
        raise BadInput(
            f"Nothing has been measured in study {study.sheet.name} yet.", "Make a trial first: ask what to try next."
        )
    return belief


def _seed(study: Study, belief: Belief | None) -> int:
    return seed_of(study) if belief is None else belief.seed


def _standing(study: Study, present: Mapping[str, object] | None) -> Settings | None:
    if present is not None:
        return study.sheet.space.parse(present)
    last = study.present()
    return None if last is None else dict(last.settings)


def _locked(study: Study, locked: Mapping[str, object] | Sequence[str] | None, standing: Settings | None) -> Settings:
    if locked is None:
        return {}
    if isinstance(locked, Mapping):
        return study.sheet.space.parse_some(locked)
    names = [locked] if isinstance(locked, str) else list(locked)
    unknown = [name for name in names if name not in study.sheet.space.by_name]
    missing = [name for name in names if name not in (standing or {})]
    if unknown or missing:
        raise BadUse(
            f"Cannot keep {', '.join(unknown or missing)} as it stands.",
            "Give the value to keep, as in gain=1:00." if not unknown else "Use names of the sheet.",
        )
    return {name: value for name, value in (standing or {}).items() if name in names}


def _walk(study: Study, choices: Sequence[Choice], standing: Settings | None, minutes: float | None) -> list[Choice]:
    """The first of the choices that fit into the time together, at least one, in the order of the shortest walk."""
    space, each = study.sheet.space, trial_minutes(study)
    for count in range(len(choices), 0, -1):
        stops = [choice.settings for choice in choices[:count]]
        walk = shortest_walk(space, standing, stops)
        spent = count * each + walk_minutes(space, standing, [stops[place] for place in walk])
        if minutes is None or spent <= minutes:
            break
    return [choices[place] for place in walk]


def _proposal(study: Study, belief: Belief | None, choice: Choice, standing: Settings | None) -> Proposal:
    space = study.sheet.space
    settings = space.sorted(choice.settings)
    minutes = handling_minutes(space, standing, settings)
    if belief is None:
        names = [counsel.name for counsel in able(study)] if choice.advised else []
        reason = advised_reason(names) if names else first_reason(study.sheet, settings)
        return Proposal(settings, None, None, None, None, minutes, reason, choice.kind)
    prediction = belief.predict(settings)
    explanation = explain(belief, settings, choice.kind, choice.lesson)
    return Proposal(
        settings=settings,
        expected=prediction.mean,
        expected_se=prediction.se,
        chance_best=explanation.chance_best,
        chance_in_band=prediction.chance_in_band,
        effort_minutes=minutes,
        reason=explanation.text,
        kind=choice.kind,
        runner_up=_runner_up(belief, choice, standing),
        nearest=explanation.nearest,
        by_setting=explanation.by_setting,
        lesson=choice.lesson,
    )


def _runner_up(belief: Belief, choice: Choice, standing: Settings | None) -> RunnerUp | None:
    if not choice.easier:
        return None
    settings = belief.space.sorted(choice.easier[0])
    prediction = belief.predict(settings)
    minutes = handling_minutes(belief.space, standing, settings)
    return RunnerUp(settings, prediction.mean, prediction.se, minutes)
