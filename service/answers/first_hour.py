"""Which step a new house takes next: from its name to the first lists."""

from dashboards import links
from dashboards.pages.first_hour import FirstHour, FirstStep
from dashboards.text.first_hour_text import step_words
from service.answers.museum import Museum
from service.storage.places import sites
from service.storage.works import is_any_hung, prints


def first_hour(museum: Museum) -> FirstHour | None:
    """Return the steps of a house in which no work hangs yet; None: its lists are there."""
    register = museum.stores.register
    if is_any_hung(register):
        return None
    works = bool(prints(register))
    addresses = (links.house(), links.bring_in(), links.import_works(), links.works())
    done = (bool(sites(register)), bool(museum.rooms()), works, False)
    found = zip(step_words(), addresses, done, strict=True)
    return FirstHour([FirstStep(words, address, taken) for words, address, taken in found])
