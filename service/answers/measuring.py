"""What to measure next in the house, from the draws of every work that is held by tension."""

from analysis.answers.measuring import NextMeasurement, OpenAnswer, next_measurements
from analysis.results import Floats
from analysis.simulation.chain_state import probe_state
from analysis.simulation.discrepancy import angle_at
from analysis.simulation.packing import fixed_rows, stack
from service.answers.museum import Museum
from service.estimates.assessments import Assessed


def measure_next(museum: Museum) -> list[NextMeasurement]:
    """Return all acts that would settle an open answer, the best for its time first."""
    return museum.cached(("measure next", museum.now()), lambda: _measure_next(museum))


def _measure_next(museum: Museum) -> list[NextMeasurement]:
    found = [
        answer
        for room in museum.every_room()
        for one in museum.assessed(room.room)
        if (answer := _open_answer(one)) is not None
    ]
    return next_measurements(found)


def _open_answer(one: Assessed) -> OpenAnswer | None:
    """Return what a work's draws show now; None where nothing was run of it."""
    if one.draws is None or one.state_then is None:
        return None
    state = one.state_then.states.get(one.work.work_id)
    if state is None:
        return None
    weights = None if one.learned is None else one.learned.weights
    shown = _shown(one, state, weights)
    return OpenAnswer(
        one.work,
        one.room_id,
        one.draws,
        shown["headroom_up_pct"],
        shown["slope_mrad"],
        shown["weights"],
    )


def _shown(one: Assessed, state: Floats, weights: Floats | None) -> dict[str, Floats]:
    assert one.draws is not None and one.state_then is not None
    key = one.work.work_id
    stacked = stack([one.work], {key: one.draws}, None if weights is None else {key: weights})
    probes = probe_state(state, fixed_rows(stacked)[0], angle_at(one.state_then.time_utc))
    return {**probes, "weights": stacked.weight[0]}


def room_names(museum: Museum) -> dict[str, str]:
    """Return the names of all rooms by their number."""
    return {room.room: room.name for room in museum.every_room()}
