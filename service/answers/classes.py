"""What works teach each other, for the page and the command."""

from analysis.learning.class_knowledge import ClassSummary
from analysis.learning.stated_values import table_row
from analysis.results import Range
from dashboards.lines import Table
from dashboards.pages import classes_page as class_text
from dashboards.pages.classes_page import ClassesPage
from dashboards.text.messages import _
from service.answers.museum import Museum
from service.estimates.class_renewal import class_of
from service.storage import class_knowledge
from service.storage.works import as_work, work_records


def classes_page(museum: Museum, saved: str = "") -> ClassesPage:
    """Return what is lent now, and of when it is."""
    register = museum.stores.register
    known, on = class_knowledge.latest(register), class_knowledge.teaching(register)
    summaries = known.summaries if known is not None and on else ()
    made, version = (None, 0) if known is None else (known.made_utc, known.version)
    return ClassesPage(
        answer=class_text.answer_words(summaries, version, made, on, museum.zone),
        table=_table(museum, summaries) if summaries else None,
        notes=[_(class_text.ONLY_MEASURED)],
        on=on,
        saved=saved,
    )


def _table(museum: Museum, summaries: tuple[ClassSummary, ...]) -> Table:
    return class_text.table([(one, usual) for one in summaries
                             if (usual := _usual(museum, one)) is not None])  # fmt: skip


def _usual(museum: Museum, summary: ClassSummary) -> Range | None:
    """Return the tables' range for a class, of a work that is of it."""
    for record in work_records(museum.stores.register).values():
        work = as_work(record, museum.clock())
        if class_of(work, summary.name) == summary.kind:
            row = table_row(work, summary.name)
            return None if row is None else Range(row.low, row.value, row.high)
    return None
