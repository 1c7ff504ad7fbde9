"""How proposals and the outlook are told in the terminal."""

from collections.abc import Iterator, Sequence

from optimiser.cli.commands.advising import say_weights
from optimiser.cli.outcome import View
from optimiser.cli.printing import columns, count, listed, number, paragraph, percent, plus_minus, whole
from optimiser.units import INTERVAL_SDS, show_minutes


def say_next(view: View) -> Iterator[str]:
    """What to try next, why, how long it takes, and what further trials could still gain."""
    yield from _say_put_aside(view)
    for place, proposal in enumerate(view["proposals"]):
        yield from paragraph(f"TRY NEXT: trial {proposal['trial']} of {view['study']}")
        yield from columns(proposal["shown"].items())
        if proposal["held"]:
            yield from paragraph(f"{listed(proposal['held'])}, as you asked", 10, "Held:")
        if not proposal["changes"] and proposal["effort_minutes"]:
            yield from paragraph(
                f"all of it (about {show_minutes(proposal['effort_minutes'])} of handling)", 10, "Set:"
            )
        if proposal["changes"]:
            yield from paragraph(
                f"{proposal['changes']} (about {show_minutes(proposal['effort_minutes'])} of handling "
                f"since trial {proposal['since_trial']})",
                10,
                "Change:",
            )
        if proposal["expected"] is not None:
            band = proposal.get("chance_in_band")
            accepted = "" if band is None else f"; {proposal['accepted']}: {percent(band)}"
            yield from paragraph(
                f"{plus_minus(proposal['expected'], proposal['expected_se'])}; "
                f"chance of a new best {percent(proposal['chance_best'])}{accepted}",
                10,
                "Expected:",
            )
        yield from paragraph(proposal["reason"], 10, "Why:")
        if place == 0 and view["learnt_since"] and proposal["expected"] is not None:
            since = count(view["learnt_since"], "change")
            told = f"all this is as it was proposed, {since} ago; optimiser predict tells what is expected by now"
            yield from paragraph(told, 10, "As then:")
        yield from _say_portions(proposal)
        yield from _say_easier(proposal.get("runner_up"))
        yield ""
    yield from _say_time(view)
    yield from say_basis(view)
    yield from say_outlook(view["outlook"])
    yield from say_weights(view)
    first = view["proposals"][0]["trial"]
    yield from whole("Then:", f"optimiser take {view['study']} REFERENCE.wav CAPTURE.wav --trial {first} --reading X")


def say_session(view: View) -> Iterator[str]:
    """A session at a glance: when each trial begins and what changes for it."""
    yield from _say_put_aside(view)
    proposals = view["proposals"]
    handling = [proposal["effort_minutes"] for proposal in proposals]
    each = (view["minutes"] - sum(handling)) / len(proposals)
    rows, begins = list[tuple[str, str, str]](), 0.0
    for proposal, minutes in zip(proposals, handling, strict=True):
        arrangement = ", ".join(f"{name} {said}" for name, said in proposal["shown"].items())
        hands = f" (about {show_minutes(minutes)} of handling)" if minutes else ""
        rows.append((f"trial {proposal['trial']}", _clock(begins), f"{proposal['changes'] or arrangement}{hands}"))
        begins += minutes + each
    yield from columns([("TRIAL", "AFTER", "CHANGE"), *rows], 0)
    yield ""
    yield from _say_time(view)
    yield from say_basis(view)
    yield from say_outlook(view["outlook"])
    yield from whole("Then:", f"optimiser next {view['study']}")


def _clock(minutes: float) -> str:
    """Time since the session began, as `0:42`."""
    hours, rest = divmod(round(minutes), 60)
    return f"{hours}:{rest:02d}"


def _say_put_aside(view: View) -> Iterator[str]:
    """The waiting trials that will not be made, with the reason, and what is no longer held with them."""
    from optimiser.study import trials_in_words

    declined = view["put_aside"]
    for reason in dict.fromkeys(one["reason"] for one in declined):
        numbers = [one["trial"] for one in declined if one["reason"] == reason]
        yield from paragraph(f"{trials_in_words(numbers)} ({reason})", 11, "Put aside:")
    if view["met"]:
        yield from paragraph(
            f"{listed(view['met'])}, as it happens: what waited stands so anyway; to keep it for others lock it again",
            10,
            "Held:",
        )
    if view["let_go"]:
        yield from paragraph(f"{listed(view['let_go'])}, no longer held", 11, "Let go:")
    if declined:
        yield ""


def _say_time(view: View) -> Iterator[str]:
    """How long it all takes, where several are handed out or the time was told."""
    trials, spent, given = len(view["proposals"]), view["minutes"], view["minutes_given"]
    if trials > 1 or given is not None:
        much = f"; more than the {show_minutes(given)} there are" if given is not None and spent > given else ""
        each = (spent - sum(proposal["effort_minutes"] for proposal in view["proposals"])) / trials
        if given is not None and trials == view["most"] and spent + each <= given:
            much = f"; {trials} are the most at once, so ask again when they are made"
        told = f"about {show_minutes(spent)} for {count(trials, 'trial')}, handling included{much}"
        yield from paragraph(told, 10, "Time:")
    if view["held_for_time"]:
        yield from paragraph(
            f"{listed(view['held_for_time'])}, where the time left is too short for a change", 10, "Held:"
        )
    if first := view["came_first"]:
        later = any(proposal["trial"] == first for proposal in view["proposals"])
        why = "in this order hands have less to do" if later else "it waits for more time"
        if later and view["proposals"][0]["kind"] == "check":
            why = "a check comes before anything else"
        yield from paragraph(f"trial {first} came first until now; {why}", 10, "Order:")


def _say_portions(proposal: View) -> Iterator[str]:
    """What each setting's change is good for, where more than one changes."""
    portions = proposal.get("by_setting") or {}
    told = [
        f"{name} {_signed(portion['gain'])} expected, {_signed(INTERVAL_SDS * portion['doubt'])} of doubt"
        for name, portion in portions.items()
        if portion["gain"] or portion["doubt"]
    ]
    if len(told) > 1:
        yield from paragraph(f"against trial {proposal['nearest']}, in points: {'; '.join(told)}", 10, "Shares:")


def _signed(points: float) -> str:
    """With its sign, and without one where nothing is left after rounding."""
    return f"{points:+.1f}".replace("+0.0", "0.0").replace("-0.0", "0.0")


def _say_easier(easier: View | None) -> Iterator[str]:
    if easier:
        yield from paragraph(
            f"{easier.get('changes', '')} (about {show_minutes(easier['effort_minutes'])} of handling), expected "
            f"{plus_minus(easier['expected'], easier['expected_se'])}; to take it, set it and log it with --set",
            10,
            "Easier:",
        )


def say_basis(view: View) -> Iterator[str]:
    """What all scores stand on, where that is less than a hunt should have."""
    if view["by_reading"]:
        yield from paragraph(f"go {view['by_reading']}", 10, "Scores:")


def say_outlook(outlook: View) -> Iterator[str]:
    """What further trials could still gain."""
    if outlook["gain_left"] is None:
        return
    yield from paragraph(
        f"{outlook['advice_shown']}; about {number(outlook['gain_left'])} points still to gain, "
        f"{percent(outlook['chance_near_best'])} sure that the recommended settings are {outlook['near_shown']}",
        10,
        "Outlook:",
    )
    yield from _say_days(outlook.get("days") or ())
    if outlook.get("checked"):
        yield from paragraph(
            f"left out one by one, {outlook['covered']} of {outlook['checked']} trials lie inside the 90 % interval "
            "that the others predict",
            10,
            "Checked:",
        )
    for trial in outlook.get("doubted") or ():
        yield from paragraph(
            f"trial {trial} fits none of the others and counts for little. A botched take or a wrong number? Make it "
            "again, or leave it.",
            10,
            "Doubtful:",
        )


def _say_days(days: Sequence[View]) -> Iterator[str]:
    """What the newest day reads high or low by."""
    if days:
        newest = days[-1]
        hint = "" if newest["linked"] else "; a trial of another day made again today would tell it better"
        yield from paragraph(
            f"{newest['day']} reads {newest['shown']} against all days; scores are compared with that taken off{hint}",
            10,
            "Days:",
        )
