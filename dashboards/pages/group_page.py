"""The first page of a group of houses: what it says of each, and its words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from analysis.results import Listing, State
from dashboards.pages.page import documented
from dashboards.text import wording
from dashboards.text.messages import _, counted

MOST_NAMED = 3  # houses named in the answer


@dataclass(frozen=True)
class HouseLine:
    """One house: what its own first page says, and whom it needs.

    ``answered`` is of which hour ``answer`` is, where that is an earlier one. Where ``cannot_tell``
    is not empty it says why nothing is known of the house now; ``answer`` is then its last one, or
    empty.
    """

    name: str
    title: str
    address: str
    answer: str = ""
    answered: str = ""
    language: str = ""
    clock: str = ""
    state: State | None = None
    counts: Mapping[Listing, int] | None = None
    needs: Sequence[str] = ()
    due: str = ""
    cannot_tell: str = ""


@dataclass(frozen=True)
class GroupPage:
    """All houses in which the reader has a role: which one needs whom."""

    template: ClassVar[str] = "group.html"
    section: ClassVar[str] = "houses"
    answer: str = documented("How many houses need somebody, and how many cannot be told of")
    older: str = documented("How many houses are told of as of an earlier hour, or empty")
    untold: Sequence[HouseLine] = documented("Houses that cannot be told of now, and why")
    houses: Sequence[HouseLine] = documented("The other houses, the most urgent first")
    unknown: str = documented(
        "That there are houses of which not even the reader's role is known now, or empty"
    )


# The words.


def group_answer(needing: Sequence[str], told: int, untold: int) -> str:
    """Return in how many of the houses a work is to be looked at first, and in which.

    Parameters
    ----------
    needing : sequence of str
        Houses in which a work is to be looked at first, the most urgent first.
    told, untold : int
        Of how many houses something is known, and of how many not.

    Examples
    --------
    >>> group_answer(["The house on the quay"], 3, 0)
    'One of 3 houses has works to look at first: The house on the quay.'
    >>> group_answer([], 2, 1)
    'None of 2 houses has a work to look at first. Of one more house nothing can be told now.'
    >>> group_answer([], 0, 0)
    'There is no house here in which you have a role.'
    """
    if not told and not untold:
        return _("There is no house here in which you have a role.")
    parts = [_needing(needing, told)] if told else []
    if untold and told:
        parts.append(
            counted(
                "Of one more house nothing can be told now.",
                "Of {many} more houses nothing can be told now.",
                untold,
                many=wording.number(untold),
            )
        )
    elif untold:
        parts.append(_("Of no house anything can be told now."))
    return " ".join(parts)


def _needing(needing: Sequence[str], told: int) -> str:
    if not needing:
        return counted(
            "The one house has no work to look at first.",
            "None of {many} houses has a work to look at first.",
            told,
            many=wording.number(told),
        )
    named = list(needing[:MOST_NAMED])
    if more := len(needing) - len(named):
        named.append(counted("{many} more", "{many} more", more, many=wording.number(more)))
    return counted(
        "One of {all} houses has works to look at first: {houses}.",
        "{many} of {all} houses have works to look at first: {houses}.",
        len(needing),
        many=wording.capital(wording.count(len(needing))),
        all=wording.number(told),
        houses=wording.listed(named),
    )


def house_needs(
    counts: Mapping[Listing, int], unseen: int, silent: int, overdue: bool
) -> list[str]:
    """Return whom a house needs, each with what for.

    Examples
    --------
    >>> house_needs({Listing.LOOK_FIRST: 2, Listing.CANNOT_TELL: 1}, 1, 0, False)
    ['Somebody with a lamp: 2 works to look at first.', 'Whoever answers notices: 1 not seen yet.']
    >>> house_needs({Listing.CANNOT_TELL: 4}, 0, 1, True)[0]
    'Whoever looks after the loggers: 1 is silent.'
    """
    first = counts.get(Listing.LOOK_FIRST, 0)
    untold = counts.get(Listing.CANNOT_TELL, 0)
    needs = []
    if first:
        needs.append(
            counted(
                "Somebody with a lamp: {many} work to look at first.",
                "Somebody with a lamp: {many} works to look at first.",
                first,
                many=wording.number(first),
            )
        )
    if unseen:
        needs.append(
            _("Whoever answers notices: {many} not seen yet.", many=wording.number(unseen))
        )
    if silent:
        needs.append(
            counted(
                "Whoever looks after the loggers: {many} is silent.",
                "Whoever looks after the loggers: {many} are silent.",
                silent,
                many=wording.number(silent),
            )
        )
    elif overdue:
        needs.append(_("Whoever reads the loggers: they are overdue."))
    if untold and not first:
        needs.append(
            counted(
                "Somebody who looks or measures: of {many} work nothing can be told.",
                "Somebody who looks or measures: of {many} works nothing can be told.",
                untold,
                many=wording.number(untold),
            )
        )
    return needs


def due_words(due_utc: datetime | None, now_utc: datetime, zone: str) -> str:
    """Return when the loggers of a house are to be read next; empty where nobody reads them.

    Examples
    --------
    >>> from datetime import UTC
    >>> now = datetime(2026, 3, 23, 9, tzinfo=UTC)
    >>> due_words(datetime(2026, 3, 30, tzinfo=UTC), now, "UTC")
    'loggers to be read next by 30 March 2026'
    >>> due_words(datetime(2026, 3, 16, tzinfo=UTC), now, "UTC")
    'loggers were to be read by 16 March 2026'
    """
    if due_utc is None:
        return ""
    on = wording.day_only(due_utc, zone)
    if due_utc < now_utc:
        return _("loggers were to be read by {day}", day=on)
    return _("loggers to be read next by {day}", day=on)


def house_late(seconds: float) -> str:
    """Return that a house has not answered in time."""
    return _(
        "It has not answered within {seconds} s. It is still asked; look again in a minute.",
        seconds=wording.number(seconds),
    )


def house_opening() -> str:
    """Return that a house is just being opened."""
    return _("It is being opened. Look again in a minute.")


def house_shut(why: str) -> str:
    """Return that a house cannot be opened, and why."""
    return _("It cannot be opened: {why}", why=why)


def house_failed(why: str) -> str:
    """Return that a house could not say how it stands."""
    return _("It could not say how it stands: {why}", why=why)


def as_of(at_utc: datetime, zone: str) -> str:
    """Return of which hour a house's word is, where that is an earlier one."""
    return _("As of {when}; it is being asked anew.", when=wording.date_time(at_utc, zone))


def older_words(many: int) -> str:
    """Return of how many houses it is told what they said at an earlier hour.

    Examples
    --------
    >>> older_words(3)
    '3 houses are told of as of an earlier hour, each named below; they are being asked anew.'
    >>> older_words(0)
    ''
    """
    if not many:
        return ""
    return counted(
        "One house is told of as of an earlier hour, named below; it is being asked anew.",
        "{many} houses are told of as of an earlier hour, each named below; they are being asked "
        "anew.",
        many,
        many=wording.number(many),
    )


def last_answer(at_utc: datetime, zone: str) -> str:
    """Return of when the last answer of a house is."""
    return _("Its last answer, of {when}:", when=wording.date_time(at_utc, zone))


def houses_unknown(many: int) -> str:
    """Return that there are houses of which not even the reader's role is known."""
    if not many:
        return ""
    return counted(
        "One more house cannot be asked now, not even whether you have a role in it.",
        "{many} more houses cannot be asked now, not even whether you have a role in them.",
        many,
        many=wording.number(many),
    )
