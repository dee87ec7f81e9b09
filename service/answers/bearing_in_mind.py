"""What to bear in mind beside a work's numbers, from what was found of it and the register."""

from analysis.answers.caveats import Circumstances, Flagged, bear_in_mind
from analysis.results import Listing
from service.answers.museum import Museum
from service.estimates.assessments import Assessed
from service.estimates.half_times import fitted_conditions, frame_record
from service.storage.works import holding, work_record


def to_bear_in_mind(museum: Museum, found: Assessed) -> tuple[Flagged, ...]:
    """Return what to bear in mind of a work, with its figures; nothing where no number is given.

    Parameters
    ----------
    museum : Museum
        The museum, for the record of a fitted half-time and the day of the hanging.
    found : Assessed
        What was found of the work.
    """
    work, judged = found.work, found.judgement
    if found.draws is None or found.air is None or judged.listing is Listing.CANNOT_TELL:
        return ()
    draws, air = found.draws, found.air

    def make() -> tuple[Flagged, ...]:
        stores, at = museum.stores, judged.at_utc
        recorded = work_record(stores.register, work.work_id)
        record, hung = frame_record(stores, recorded, at), holding(recorded.hangings, at)
        known = Circumstances(
            at_utc=at,
            draws=draws,
            air=air,
            weights=None if found.learned is None else found.learned.weights,
            history=found.history,
            fitted_in=fitted_conditions(stores, recorded, at),
            moved_utc=None if hung is None else hung.from_utc,
            logger_inside=record is not None and record.framing == holding(recorded.framings, at),
        )
        return bear_in_mind(work, known)

    return museum.cached(("bear in mind", work.work_id, judged.at_utc), make)
