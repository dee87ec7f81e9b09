"""Where to hang, in sentences: the answer, what cannot be told and why, what was assumed."""

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.planning.hanging import HARDLY, SAID_FROM, HangingRow, HangingTable, Place
from analysis.works import Wall
from dashboards.lines import Table
from dashboards.text import wording
from dashboards.text.messages import _
from dashboards.text.refusal_text import refusal_words

NAMED = 3  # works named in the answer


def assumed() -> list[str]:
    """Return what was taken for granted."""
    return [
        _(
            "Each work hangs there all year, out of sun and spotlights; one that was mounted or "
            "framed during the year is taken as mounted or framed at its beginning."
        ),
        _(
            "The coming year is like the last one. Up to three months before it, where measured, "
            "are run and not counted, so that slow frames have forgotten how they began; the years "
            "from its mounting to then are drawn as in every judgement, as if it had hung there."
        ),
        _("Which walls of a room are outside walls stands in its record in words: see there."),
    ]


def place_words(place: Place, places: Sequence[Place]) -> str:
    """Return a place's name: the room alone where all places are on the same kind of wall."""
    alike = len({one.wall for one in places}) == 1
    return place.room if alike else f"{place.room}, {_(place.wall.value)}"


def figures(table: HangingTable) -> Table:
    """Return what the picture shows: each work's share of the year to be looked at first."""
    headings = [_("Work"), *(place_words(place, table.places) for place in table.places)]
    rows = [
        [row.work.title, *(_share(cell.share) if cell.judged else wording.NONE
                           for cell in row.cells)]
        for row in table.rows
    ]  # fmt: skip
    caption = _("Share of last year in which each work would have been looked at first")
    return Table(headings, rows, caption, range(1, len(headings)))


def _share(part: float) -> str:
    return wording.with_unit(100.0 * part, "%")


def left_out(table: HangingTable) -> list[str]:
    """Return the works that have no row, and why."""
    return [f"{work.title}: {_(work.mount.value)}" for work in table.left_out]


def answer(table: HangingTable) -> str:
    """Return in a sentence or three where works would have fared best and worst."""
    places, means = table.places, table.means
    told = [row for row in table.rows if row.judged]
    if not told and len(table.rows) == 1:
        return _partly(table.rows[0], places)
    if not told:
        return _("Cannot tell in every place for any work: see the reasons.")
    who = (
        _("“{title}”", title=told[0].work.title)
        if len(told) == 1
        else _("These {many} works", many=wording.number(len(told)))
    )
    best, worst = (place_words(places[i], places) for i in (0, -1))
    if len(places) == 1:
        return _(
            "{who} would have asked for a first look in {share} of the year in {place}.",
            who=who,
            share=wording.share(means[0]),
            place=best,
        )
    if means[-1] - means[0] < HARDLY:
        hardly = _(
            "{who} would have asked for a first look in about {share} of the year: the places "
            "hardly differ.",
            who=who,
            share=wording.share(means[0]),
        )
        return " ".join([hardly, *_matters(told)])
    differ = _(
        "{who} would have asked for a first look least in {best} ({low} of the year) and most in "
        "{worst} ({high}).",
        who=who,
        best=best,
        low=wording.share(means[0]),
        worst=worst,
        high=wording.share(means[-1]),
    )
    decide = _("Curator and conservator decide.")
    return " ".join([differ, *_by_wall(means, places), *_matters(told), decide])


def _partly(row: HangingRow, places: Sequence[Place]) -> str:
    """Return the answer for one work that cannot be told in every place."""
    title = row.work.title
    known = [
        (cell.share, place_words(place, places))
        for cell, place in zip(row.cells, places, strict=True)
        if cell.judged
    ]
    if not known:
        return _("Cannot tell for “{title}”: see the reasons.", title=title)
    low, high = min(known), max(known)
    untold = _(
        "In {some} of {all} places it cannot be told.",
        some=wording.number(len(places) - len(known)),
        all=wording.number(len(places)),
    )
    if high[0] - low[0] < HARDLY:
        said = _(
            "“{title}” would have asked for a first look in about {share} of the year where it "
            "can be told: those places hardly differ.",
            title=title,
            share=wording.share(low[0]),
        )
    else:
        said = _(
            "“{title}” would have asked for a first look least in {best} ({low} of the year) and "
            "most in {worst} ({high}).",
            title=title,
            best=low[1],
            low=wording.share(low[0]),
            worst=high[1],
            high=wording.share(high[0]),
        )
    return f"{said} {untold}"


def _by_wall(means: Sequence[float], places: Sequence[Place]) -> list[str]:
    """Return how walls compare over all rooms, where there is more than one kind."""
    walls = [wall for wall in Wall if any(place.wall is wall for place in places)]
    if len(walls) == 1:
        return []
    parts = []
    for wall in walls:
        mean = np.mean([m for m, place in zip(means, places, strict=True) if place.wall is wall])
        parts.append(f"{_(wall.value)} {wording.share(float(mean))}")
    return [_("Over all rooms: {parts}.", parts=", ".join(parts))]


def _matters(told: Sequence[HangingRow]) -> list[str]:
    """Return to which works the place matters most, and to how many it hardly does."""
    if len(told) == 1:
        return []
    said = []
    most = [_("“{title}”", title=row.work.title) for row in told if row.depends][:NAMED]
    if most:
        said.append(_("It matters most to {works}.", works=wording.listed(most)))
    if same := sum(not row.depends for row in told):
        some, every = wording.number(same), wording.number(len(told))
        said.append(_("To {some} of the {all} it hardly matters.", some=some, all=every))
    return said


def notes(table: HangingTable) -> list[str]:
    """Return what cannot be told, and why."""
    found = [note for row in table.rows if (note := _untold(row, table.places))]
    unknown = [
        row.work.title
        for row in table.rows
        if any(cell.judged and cell.clearance is None for cell in row.cells)
    ]
    if unknown:
        found.append(
            _(
                "The depth in front of the print is not recorded, so nearness to the glazing "
                "cannot be told: {works}.",
                works=", ".join(unknown),
            )
        )
    return found


def _untold(row: HangingRow, places: Sequence[Place]) -> str:
    """Return where a work cannot be told, or not for much of the year, and why."""
    by_reason: dict[str, list[tuple[str, float]]] = {}
    for cell, place in zip(row.cells, places, strict=True):
        for key, share in cell.refused.items():
            if share >= SAID_FROM:
                by_reason.setdefault(key, []).append((place_words(place, places), share))
    said = []
    for key, where in by_reason.items():
        why, mend = refusal_words(key)
        everywhere = len(where) == len(places) and all(share > 0.99 for _name, share in where)
        rooms = ", ".join(
            _("{room} ({share} of the year)", room=room, share=wording.share(share))
            for room, share in where
        )
        there = _("anywhere") if everywhere else _("in {rooms}", rooms=rooms)
        cannot = _(
            "“{title}” cannot be told {there}: {why}.", title=row.work.title, there=there, why=why
        )
        said.append(f"{cannot} {mend}")
    return " ".join(said)


# Of a whole collection, which is worked out by a job.


def job_offered(draws: int, usual: int) -> str:
    """Return that so large a table is worked out when somebody asks for it, and how finely."""
    return _(
        "For so many works and rooms this takes some minutes. It is worked out with {draws} draws "
        "a work, not {usual}: enough to compare rooms. One work alone has all draws.",
        draws=draws,
        usual=usual,
    )


def job_draws(draws: int, usual: int) -> str:
    """Return with how many draws a large table was worked out."""
    return _(
        "{draws} draws a work, not {usual}: enough to compare rooms.",
        draws=draws,
        usual=usual,
    )


def job_words(step: str, problem: Mapping[str, str] | None) -> str:
    """Return how far the job is, or why it ended without a table."""
    if problem is not None:
        return _("It was not worked out: {found}. {action}", **_two(problem))
    return _("It is being worked out: {step}. This page looks again by itself.", step=step)


def _two(problem: Mapping[str, str]) -> dict[str, str]:
    return {name: problem[name] for name in ("found", "action")}


def table_words(at: str, draws: int, usual: int, *, old: bool) -> str:
    """Return when a kept table was worked out, with how many draws, and whether it still holds."""
    said = _(
        "Worked out on {at} with {draws} draws a work, not {usual}.",
        at=at,
        draws=draws,
        usual=usual,
    )
    changed = _("Something in the house has changed since.")
    return f"{said} {changed}" if old else said
