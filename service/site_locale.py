"""The way a house writes numbers and dates: everything said within these is said in it.

A thread begins without any, and so does a request: each enters it anew, so that a change on the
page of the house is seen at once.
"""

from collections.abc import Iterator
from contextlib import contextmanager

from analysis.errors import StilltautError
from dashboards.text.error_words import problem_words
from dashboards.text.messages import BRITISH, in_the_way_of
from service.settings import Settings
from service.storage import places
from service.storage.register import Register
from service.storage.stores import Stores


def site_locale(register: Register) -> str:
    """Return the language and country in which a house writes numbers and dates."""
    site = next(iter(places.sites(register)), None)
    return BRITISH if site is None or site.locale is None else site.locale


@contextmanager
def in_site_locale(register: Register) -> Iterator[None]:
    """Word everything within as the house writes numbers and dates."""
    with in_the_way_of(site_locale(register)):
        yield


@contextmanager
def opened_stores(settings: Settings, *, create: bool = True) -> Iterator[Stores]:
    """Open the stores for a command; what it says meanwhile is said in the house's way."""
    with Stores.open(settings, create=create) as stores, in_site_locale(stores.register):
        try:
            yield stores
        except StilltautError as problem:
            problem.in_words = problem_words(problem)
            raise
