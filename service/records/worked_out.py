"""Numbers worked out from what a person measured: offcut strips, a board and a back."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from analysis.errors import StilltautError
from analysis.learning.board_back import half_time_range_h, permeance_range
from analysis.learning.offcut import Strip, StripErrors, movement
from analysis.learning.stated_values import table_row
from analysis.parameters import Parameter
from analysis.records import Field
from analysis.records.cells import CellError, value_of
from analysis.results import Range
from dashboards import links
from dashboards.forms.form import YOUR_NAME, FieldGroup, RecordForm, filled
from dashboards.forms.stated_words import (
    AXES,
    BOARD,
    ORIGIN,
    STRIPS,
    half_time_words,
    movement_words,
    since_field,
    strip_about,
    strip_cautions,
    strip_fields,
)
from dashboards.pages.register_pages import FormPage
from dashboards.text.error_words import error_words
from dashboards.text.messages import N_, _
from service.answers.museum import Museum
from service.records.sent_forms import NEEDED, Texts, found_expected, read_form
from service.records.stated_numbers import elsewhere, keep, unnamed
from service.storage.works import work_at

SAVE = ("do", "save", N_("Write it down"))
OF_A_SHEET, OF_A_BACK = since_field("beta_cd"), since_field("back_permeance")


@dataclass(frozen=True)
class Found:
    """What a form of strips or of a board gives: numbers to state, and sentences."""

    stated: tuple[tuple[str, Range], ...] = ()
    told: Sequence[str] = ()


NOTHING = Found()
Show = Callable[[Museum, str, Texts, Texts, Found], FormPage]


def strip_form(
    museum: Museum, work_id: str, sent: Texts, problems: Texts, found: Found
) -> FormPage:
    """Return the form in which offcut strips are written down."""
    work = work_at(museum.stores.register, work_id, museum.clock())
    strips = [
        FieldGroup(
            _("Strip {number}", number=n),
            filled(strip_fields(n), sent, problems),
            folded=_empty(sent, n),
        )
        for n in range(1, STRIPS + 1)
    ]
    about = FieldGroup(_("All strips"), filled(strip_about(), sent, problems))
    fields = _every_strip_field()
    return FormPage(
        question=_("How far does this paper move?"),
        answer=_(
            "A strip cut from an offcut of the paper of {title}, its length read in two climates. "
            "Nothing is stored until you say so.",
            title=work.title,
        ),
        form=RecordForm(
            action=links.measured(work_id, "strip"),
            groups=[about, *strips, *_closing(sent, problems, found, OF_A_SHEET)],
            button=_("Work it out"),
            problem=elsewhere(problems, (*fields, *strip_about(), *_about(OF_A_SHEET))),
            more=((*SAVE[:2], _(SAVE[2])),) if found.stated else (),
        ),
        notes=strip_cautions(_strips(sent)[0]),
        result=found.told,
        back=links.measured(work_id),
        back_words=_("Back, without changing anything"),
    )


def sent_strips(museum: Museum, work_id: str, sent: Texts) -> tuple[FormPage | None, bool]:
    """Work strips out; keep the result when asked to. Returns the page, and whether it is wrong."""
    strips, problems = _strips(sent)
    numbers, wrong = _numbers(strip_about()[1:], sent)
    problems = problems | wrong
    axis = sent.get("axis", "")
    if axis not in dict(AXES):
        problems["axis"] = _("Say how the strips were cut.")
    found = NOTHING
    if not problems:
        try:
            moved = movement(strips, StripErrors(**numbers))
            row = _row(museum, work_id, axis)
            stated = ((axis, Range(moved.low, moved.value, moved.high)),)
            found = Found(stated, movement_words(axis, moved, row))
        except StilltautError as problem:
            problems = _at_a_strip(problem, strips)
    return _worked_out(museum, work_id, sent, problems, found, strip_form)


def board_form(
    museum: Museum, work_id: str, sent: Texts, problems: Texts, found: Found
) -> FormPage:
    """Return the form in which a board's mass and a back's permeance are written down."""
    work = work_at(museum.stores.register, work_id, museum.clock())
    return FormPage(
        question=_("How fast does this frame follow the room?"),
        answer=_(
            "Worked out for {title} from the board around the print and the back of the frame. "
            "Nothing is stored until you say so.",
            title=work.title,
        ),
        form=RecordForm(
            action=links.measured(work_id, "board"),
            groups=[
                FieldGroup("", filled(BOARD, sent, problems)),
                *_closing(sent, problems, found, OF_A_BACK),
            ],
            button=_("Work it out"),
            problem=elsewhere(problems, (*BOARD, *_about(OF_A_BACK))),
            more=((*SAVE[:2], _(SAVE[2])),) if found.stated else (),
        ),
        notes=(
            _(
                "Half-time = ln 2 × mass × moisture capacity ÷ (permeance × saturation pressure), "
                "at 20 °C and 50 %RH. The board’s capacity comes from the tables."
            ),
            _(
                "Gaps and seams often let through more than the back itself: a logger in the "
                "frame tells better."
            ),
        ),
        result=found.told,
        back=links.measured(work_id),
        back_words=_("Back, without changing anything"),
    )


def sent_board(museum: Museum, work_id: str, sent: Texts) -> tuple[FormPage | None, bool]:
    """Work board and back out; keep them when asked to."""
    numbers, problems = _numbers(BOARD[:-1], sent)
    found = NOTHING
    if not problems:
        try:
            found = _board(museum, work_id, numbers, sent.get("unit", ""))
        except StilltautError as problem:
            where = {"board_mass_kg_m2": "mass", "back_permeance": "back"}.get(
                problem.where, "mass"
            )
            problems = {where: found_expected(problem.found, problem.expected)}
    return _worked_out(museum, work_id, sent, problems, found, board_form)


def _board(museum: Museum, work_id: str, numbers: Mapping[str, float], unit: str) -> Found:
    mass = Range(numbers["mass_low"], numbers["mass"], numbers["mass_high"])
    stated = [("board_mass_kg_m2", mass)]
    permeance = None
    if "back" in numbers:
        middle = numbers["back"]
        low, high = numbers.get("back_low", middle), numbers.get("back_high", middle)
        permeance = permeance_range(Range(low, middle, high), unit)
        stated.append(("back_permeance", permeance))
    row = _row(museum, work_id, "half_time_h")
    work = work_at(museum.stores.register, work_id, museum.clock())
    told = half_time_words(half_time_range_h(mass, permeance), row, "half_time_h" in work.overrides)
    return Found(tuple(stated), told)


def _worked_out(
    museum: Museum, work_id: str, sent: Texts, problems: dict[str, str], found: Found, show: Show
) -> tuple[FormPage | None, bool]:
    """Keep what was found when that is asked for; else show it, or what is wrong."""
    if not problems and sent.get("do") == "save":
        closing = read_form((ORIGIN, OF_A_SHEET), sent, museum.zone)
        problems = dict(closing.problems) | unnamed(sent)
        if not problems:
            problems = keep(museum, work_id, found.stated, closing.values, sent, otherwise="value")
        if not problems:
            return None, False
    return show(museum, work_id, sent, problems, found), bool(problems)


def _about(since: Field) -> tuple[Field, ...]:
    return ORIGIN, since, YOUR_NAME


def _closing(sent: Texts, problems: Texts, found: Found, since: Field) -> list[FieldGroup]:
    """Return who measured it and since when; asked for once there is something to keep."""
    if not found.stated and "origin" not in sent:
        return []
    return [FieldGroup(_("To write it down"), filled(_about(since), sent, problems))]


def _every_strip_field() -> list[Field]:
    return [one for n in range(1, STRIPS + 1) for one in strip_fields(n)]


def _empty(sent: Texts, which: int) -> bool:
    """Whether nothing was written of a strip; the first is always open."""
    return which > 1 and not any(sent.get(one.name, "").strip() for one in strip_fields(which))


def _strips(sent: Texts) -> tuple[list[Strip], dict[str, str]]:
    """Return the strips that were written down, and what is wrong with them."""
    strips: list[Strip] = []
    problems: dict[str, str] = {}
    for n in range(1, STRIPS + 1):
        if _empty(sent, n):
            continue
        fields = strip_fields(n)
        numbers, wrong = _numbers(fields, sent)
        wrong |= {
            one.name: _(NEEDED)
            for one in fields
            if one.name not in numbers and one.name not in wrong
        }
        problems |= wrong
        if not wrong:
            strips.append(Strip(*(numbers[one.name] for one in fields)))
    return strips, problems


def _numbers(fields: Sequence[Field], sent: Texts) -> tuple[dict[str, float], dict[str, str]]:
    """Return the numbers of some fields, and what is wrong with them; empty ones are left out."""
    numbers: dict[str, float] = {}
    problems: dict[str, str] = {}
    for one in fields:
        text = sent.get(one.name, "").strip()
        try:
            if text:
                numbers[one.name] = value_of(one, text, mark="either")
            elif one.needed:
                problems[one.name] = _(NEEDED)
        except CellError as problem:
            problems[one.name] = found_expected(repr(text), str(problem))
    return numbers, problems


def _at_a_strip(problem: StilltautError, strips: Sequence[Strip]) -> dict[str, str]:
    """Return an error at the field of the strip that it is about, as far as that is known."""
    which = 1
    for n, strip in enumerate(strips, start=1):
        try:
            movement([strip], StripErrors(0.0, 0.0))
        except StilltautError:
            which = n
            break
    sentence = f"{found_expected(problem.found, problem.expected)} {error_words(problem.action)}"
    return {f"{problem.where}_{which}": sentence}


def _row(museum: Museum, work_id: str, name: str) -> Parameter | None:
    return table_row(work_at(museum.stores.register, work_id, museum.clock()), name)
