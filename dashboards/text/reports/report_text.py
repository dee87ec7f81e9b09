"""A month or a quarter in words: what happened, what was done, what it asks of whom."""

import math
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from analysis.limits.lenders_terms import Kept
from analysis.results import Band
from dashboards.text import dates, wording
from dashboards.text.messages import N_, Worded, _, counted

FEW = 5  # so many are named in a sentence; more are counted
READERS = Worded({"director": N_("for the director"), "facilities": N_("for facilities")})
HEADINGS = Worded(
    {
        "works": N_("Which works need somebody"),
        "excursions": N_("What excursions of the air cost"),
        "limits": N_("Whether the rooms kept to their bands"),
        "trend": N_("Against the same dates a year before"),
        "done": N_("What else was done"),
        "lessons": N_("What was learned, and what waits for its lesson"),
        "instruments": N_("What the readings stand on"),
    }
)
KEPT = Worded(
    {
        Kept.MET: N_("band kept"),
        Kept.NOT_MET: N_("band not kept"),
        Kept.CANNOT_TELL: N_("cannot tell"),
    }
)
ASKED = Worded(
    {
        "care": N_("Collections care"),
        "facilities": N_("Facilities"),
        "director": N_("The director"),
        "readers": N_("Whoever reads the loggers"),
        "instruments": N_("Whoever keeps the instruments"),
        "incidents": N_("Whoever opened an incident"),
        "notices": N_("Whoever is told of notices"),
    }
)
COUNTED_HOW = N_(
    "An hour counts where waves were likelier than not by the estimate, up to the last reading of "
    "the room. A run of such hours belongs to the excursion that had begun last in its room."
)
WORKS_HOW = N_(
    "Works that are to be looked at first, of which nothing can be told, or in which waves were "
    "likelier than not for some hours. Lists are those at the end of the dates."
)
BAND_HOW = N_(
    "Outside means beyond the band by more than the sensors’ uncertainty. Kept means inside for "
    "{share} of the time, by more than that uncertainty, with enough measured of both quantities."
)
CAUTION = N_(
    "Hours of likely waves are estimates, no sightings. The report tells where to look and what "
    "the air was; a conservator decides about works, and work on plant is for qualified people."
)


def dates_words(first: date, last: date) -> str:
    """Return the dates of a report by their shortest name.

    Examples
    --------
    >>> dates_words(date(2026, 3, 1), date(2026, 3, 31))
    'March 2026'
    >>> dates_words(date(2026, 1, 1), date(2026, 3, 31))
    'January to March 2026'
    >>> dates_words(date(2026, 3, 1), date(2026, 3, 22))
    '1 to 22 March 2026'
    """
    if first.year != last.year:
        return wording.joined(dates.date_words(first), dates.date_words(last))
    if first.day != 1 or (last + timedelta(days=1)).day != 1:
        here = first.month == last.month
        begin = wording.number(first.day) if here else dates.month_day(first)
        return wording.joined(begin, dates.date_words(last))
    if first.month == last.month:
        return dates.month_year(first)
    return wording.joined(dates.month_name(first.month), dates.month_year(last))


def question_words(named: str) -> str:
    """Return the question that a report answers."""
    return _("What did {dates} bring, and what does it ask of whom?", dates=named)


def so_far_words(over: bool) -> str:
    """Return that the dates are not over yet, or nothing."""
    return "" if over else _("These dates are not over: they are told up to now.")


def excursions_words(many: int, rooms: int, works: int, hours: float) -> str:
    """Return how many excursions there were and what they cost, as one sentence.

    Examples
    --------
    >>> excursions_words(3, 2, 4, 61.0)
    'Three excursions of the air in two rooms brought waves likelier than not to four prints, 61 h
     in all.'
    >>> excursions_words(0, 0, 0, 0.0)
    'No excursion of the air was found in what was measured.'
    """
    if not many:
        return _("No excursion of the air was found in what was measured.")
    told = {
        "excursions": wording.capital(wording.plural(many, "excursion")),
        "rooms": wording.plural(rooms, "room"),
    }
    if not works:
        return _(
            "{excursions} of the air in {rooms} brought waves likelier than not to no print.",
            **told,
        )
    return _(
        "{excursions} of the air in {rooms} brought waves likelier than not to {prints}, {hours} "
        "in all.",
        prints=wording.plural(works, "print"),
        hours=hours_words(hours),
        **told,
    )


def hours_words(hours: float) -> str:
    """Return hours summed over works, always in hours."""
    return wording.with_unit(hours, "h")


def other_hours_words(hours: float) -> str:
    """Return how many hours belong to no excursion, or nothing."""
    if not hours:
        return ""
    return _(
        "{hours} more began before any excursion of these dates: the air of the season, or what "
        "came before.",
        hours=hours_words(hours),
    )


def away_hours_words(hours: float) -> str:
    """Return how many hours fell in crates and other houses, or nothing."""
    if not hours:
        return ""
    return _("{hours} fell on works in crates and in other houses.", hours=hours_words(hours))


def untold_words(hours: float, works: int) -> str:
    """Return of how many hours of works nothing can be told, or nothing."""
    if not hours:
        return ""
    return _(
        "Of {hours} of {prints} nothing can be told: no readings, too damp, or too little known.",
        hours=hours_words(hours),
        prints=wording.plural(works, "print"),
    )


def cost_words(kind: str, many: int, works: int, hours: float) -> str:
    """Return what the excursions of one kind cost: of the ``plant``, ``planned``, ``unknown``."""
    if not many:
        return _("No plant or building works are on record for any of them.")
    said = {
        "plant": N_("Plant or building works are on record for {count}: {prints}, {hours}."),
        "planned": N_("Something else is on record for {count}: {prints}, {hours}."),
        "unknown": N_("Nothing on record explains {count}: {prints}, {hours}."),
    }
    return _(
        said[kind],
        count=wording.count(many),
        prints=wording.plural(works, "print"),
        hours=hours_words(hours),
    )


def bands_words(rooms: Mapping[str, Sequence[str]], share: str) -> str:
    """Return which rooms kept to their bands.

    Parameters
    ----------
    rooms : Mapping of str to sequence of str
        Names of rooms by ``met``, ``broken``, ``near`` (nearer to an edge than the sensors can
        say), ``little`` (too little was measured), ``without`` (no band was agreed).
    share : str
        For how much of the time a room must be inside its band to have kept to it.

    Examples
    --------
    >>> bands_words({"met": ["North"], "little": ["Hall"]}, "95 %")
    'North kept to its band for at least 95 % of the time; in Hall too little was measured to tell.'
    """
    order = ("met", "broken", "near", "little", "without")
    said = [_band_part(which, names, share) for which in order if (names := rooms.get(which))]
    if not said:
        return _("No room has a record to judge yet.")
    return wording.capital("; ".join(said)) + "."


def _band_part(which: str, names: Sequence[str], share: str) -> str:
    many, rooms = len(names), wording.listed(names)
    if which == "met":
        return counted(
            "{rooms} kept to its band for at least {share} of the time",
            "{rooms} kept to their bands for at least {share} of the time",
            many,
            rooms=rooms,
            share=share,
        )
    if which == "broken":
        return counted(
            "{rooms} did not keep to its band",
            "{rooms} did not keep to their bands",
            many,
            rooms=rooms,
        )
    if which == "near":
        return counted(
            "{rooms} came nearer to an edge of its band than the sensors can say",
            "{rooms} came nearer to an edge of their bands than the sensors can say",
            many,
            rooms=rooms,
        )
    if which == "little":
        return _("in {rooms} too little was measured to tell", rooms=rooms)
    return _("no band was agreed for {rooms}", rooms=rooms)


def surely_outside_words(rooms: Sequence[tuple[str, float, float]]) -> str:
    """Return which rooms were surely outside their bands, or nothing.

    Examples
    --------
    >>> surely_outside_words([("North", 0.012, 6.0)])
    'Surely outside: North for 1 % of the time, at the longest for 6 h.'
    """
    if not rooms:
        return ""
    said = [
        _(
            "{room} for {share} of the time, at the longest for {time}",
            room=room,
            share=wording.share(share),
            time=wording.duration(hours),
        )
        for room, share, hours in rooms
    ]
    return _("Surely outside: {rooms}.", rooms="; ".join(said))


def longest_words(room: str, hours: float, outside: float) -> str:
    """Return what a room that went outside its band asks of facilities."""
    return _(
        "bring {room} back within its band: surely outside for {share} of the time, for {time} at "
        "the longest",
        room=room,
        share=wording.share(outside),
        time=wording.duration(hours),
    )


def unmatched_words(room: str, share: float, needed: float, when: str) -> str:
    """Return why a room cannot be compared with the year before."""
    return _(
        "{room} cannot be compared: {share} of {dates} was measured, {needed} is needed.",
        room=room,
        share=wording.share(share),
        dates=when,
        needed=wording.share(needed),
    )


def named_few(names: Sequence[str]) -> str:
    """Return a few names, and how many more there are.

    Examples
    --------
    >>> named_few(["a", "b"]), named_few(list("abcdefg"))
    ('a and b', 'a, b, c, d, e and two more')
    """
    if len(names) <= FEW:
        return wording.listed(names)
    more = wording.count(len(names) - FEW)
    return wording.listed([*names[:FEW], _("{count} more", count=more)])


def ask_words(what: str, names: Sequence[str]) -> str:
    """Return what is asked, about which works, rooms or loggers."""
    asked = {
        "look": N_("look first at {names}; the round has the order of today"),
        "unsure": N_("nothing can be told of {names}: look, or write down what is missing"),
        "explain": N_("say what happened: {names}"),
        "readings": N_("close the gaps: too little was measured in {names}"),
        "check": N_("compare with a reference, never done or too long ago: {names}"),
        "close": N_("write down cause and lesson of {names}"),
        "unseen": N_("look at {names} that nobody has seen"),
        "agree": N_("have a band agreed for {names}"),
        "review": N_("have the bands looked at again, their day is past: {names}"),
    }
    return _(asked[what], names=named_few(names))


def excursion_name(room: str, when: str) -> str:
    """Return an excursion by its room and its beginning."""
    return f"{room} ({when})"


def incident_name(number: int, room: str) -> str:
    """Return what an incident is called."""
    return _("incident {number} ({room})", number=number, room=room)


def done_words(counts: Mapping[str, int]) -> list[str]:
    """Return what was done, a sentence each; what did not happen is left out but for looks.

    Examples
    --------
    >>> done_words({"looks": 0, "notices": 2, "unseen": 1})
    ['Nobody wrote down a look.', 'Two notices told of these dates; nobody has seen one of them.']
    """
    said = [_("Nobody wrote down a look.")]
    if looks := counts.get("looks", 0):
        said = [
            counted(
                "{count} look at {works}.",
                "{count} looks at {works}.",
                looks,
                count=wording.capital(wording.count(looks)),
                works=wording.plural(counts.get("looked_at", 0), "work"),
            )
        ]
    if told := counts.get("notices", 0):
        unseen = counts.get("unseen", 0)
        notices = wording.capital(wording.plural(told, "notice"))
        said.append(
            _("{notices} told of these dates; somebody has seen each.", notices=notices)
            if not unseen
            else _("{notices} told of these dates; nobody has seen any.", notices=notices)
            if unseen == told
            else _(
                "{notices} told of these dates; nobody has seen {unseen} of them.",
                notices=notices,
                unseen=wording.count(unseen),
            )
        )
    opened, closed = counts.get("opened", 0), counts.get("closed", 0)
    if opened or closed:
        said.append(
            counted(
                "{count} incident opened, {closed} closed.",
                "{count} incidents opened, {closed} closed.",
                opened,
                count=wording.capital(wording.count(opened)),
                closed=wording.count(closed),
            )
        )
    return said


def named_words(what: str, names: Sequence[str]) -> str:
    """Return which works or loggers something was done to, or nothing."""
    if not names:
        return ""
    said = {
        "checked": N_("Compared with a reference: {names}."),
        "mounted": N_("Mounted: {names}."),
        "framed": N_("Framed: {names}."),
        "hung": N_("Hung: {names}."),
        "planned": N_("In the calendar: {names}."),
        "actions": N_("Written down in incidents: {names}."),
    }
    return _(said[what], names=named_few(names) if what != "actions" else "; ".join(names))


def changed_words(title: str, before: int, after: int) -> str:
    """Return that a work was graded otherwise than before."""
    return _(
        "“{title}”: grade {after}, before that {before}.",
        title=title,
        after=wording.number(after),
        before=wording.number(before),
    )


def lesson_words(name: str, lesson: str) -> str:
    """Return what was learned of an incident."""
    return f"{wording.capital(name)}: {lesson}"


def waiting_words(name: str, what: str) -> str:
    """Return that an incident waits for its lesson."""
    return _("{name} is still open: {what}", name=wording.capital(name), what=what)


def no_lesson_words() -> str:
    """Return that no incident is open and none was closed."""
    return _("No incident was open in these dates, and none was closed.")


def band_words(band: Band) -> str:
    """Return the edges of a band.

    Examples
    --------
    >>> band_words(Band("house", 40.0, 55.0, low_temp_c=18.0, high_temp_c=24.0))
    '40 to 55 %RH; 18 to 24 °C'
    """
    words = [_between(band.low_rh_pct, band.high_rh_pct, "%RH")]
    if band.low_temp_c is not None or band.high_temp_c is not None:
        words.append(_between(band.low_temp_c, band.high_temp_c, "°C"))
    return "; ".join(words)


def _between(low: float | None, high: float | None, unit: str) -> str:
    if low is None:
        return _("at most {high} {unit}", high=wording.significant(high), unit=unit)
    if high is None:
        return _("at least {low} {unit}", low=wording.significant(low), unit=unit)
    return wording.joined(wording.significant(low), wording.significant(high), unit)


def points(low: float, high: float) -> str:
    """Return the 5 and 95 % points of humidity, or a dash."""
    return wording.NONE if math.isnan(low) else wording.span(low, high)


def tables() -> Mapping[str, Sequence[str]]:
    """Return the headings of the tables, by part."""
    return {
        "works": (
            _("Work"), _("Room"), _("List at the end"), _("Waves likelier than not, h"),
            _("Highest chance"), _("Nothing told, h"), _("Grades seen"),
        ),
        "excursions": (
            _("Room"), _("From"), _("What"), _("On record"), _("Prints"),
            _("Waves likelier than not, h"),
        ),
        "limits": (
            _("Room"), _("Band"), _("Outcome"), _("Outside"), _("Longest run outside"),
            _("RH measured"), _("Temperature measured"),
        ),
        "trend": (
            _("Room"), _("Mean RH, %"), _("a year before"), _("5 to 95 % of the time, %RH"),
            _("a year before"), _("Outside"), _("a year before"),
        ),
    }  # fmt: skip
