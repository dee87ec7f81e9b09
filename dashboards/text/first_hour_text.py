"""What a new house is told: the steps of its first hour, and what can be said meanwhile."""

from dashboards.text.messages import _


def step_words() -> tuple[str, str, str, str]:
    """Return the steps from nothing to the first lists, in their order."""
    return (
        _("Say which house it is, and the zone of its clocks."),
        _("Bring in the loggers’ files; each asks for its logger and its room."),
        _("Write down the works: from a spreadsheet, or one by one."),
        _("Say of each work where it hangs; how it is held and framed as far as is known."),
    )


def first_answer(done: int) -> str:
    """Return the answer of the first page of a house that has taken so many steps.

    Examples
    --------
    >>> first_answer(2)
    'No work is written down yet: the air of the rooms is below, and the works come next.'
    """
    if done < 2:
        return _(
            "Nothing can be said yet. Four steps lead to the first lists, and each can be "
            "corrected later."
        )
    if done == 2:
        return _(
            "No work is written down yet: the air of the rooms is below, and the works come next."
        )
    return _("No work hangs anywhere yet: say of each where it hangs, and it is judged.")
