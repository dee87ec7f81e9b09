"""Pages of accounts: signing in, one's own account, everybody's, and who changed what."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from dashboards.pages.page import documented


@dataclass(frozen=True)
class AccountLine:
    """One account among all."""

    user: str
    full_name: str
    role: str
    email: str
    active: bool
    has_password: bool
    has_second_factor: bool


@dataclass(frozen=True)
class AuditedChange:
    """One change: what, by whom, when, from which page."""

    at_utc: datetime
    words: str
    by: str
    account: str
    page: str


@dataclass(frozen=True)
class SignInPage:
    """Name and password, and a code where one is asked for."""

    template: ClassVar[str] = "sign_in.html"
    section: ClassVar[str] = ""
    then: str = documented("Where one goes on to, an address of this program")
    name: str = documented("The name that was typed, or empty")
    problem: str = documented("Why it was refused, or empty")
    said: str = documented("What has just been done, or empty")
    by_house: str = documented("What the house's own sign-in is called, or empty", default="")
    still_there: bool = documented(
        "Whether one has just signed out here, and may still be signed in at the provider",
        default=False,
    )


@dataclass(frozen=True)
class WelcomePage:
    """A password is chosen, by a one-time link."""

    template: ClassVar[str] = "welcome.html"
    section: ClassVar[str] = ""
    link_text: str = documented("The link as it was opened")
    user: str = documented("Whose it is; empty where the link does not hold")
    shortest: int = documented("How many signs a password has at least")
    problem: str = documented("What is wrong with what was typed, or empty")


@dataclass(frozen=True)
class AccountPage:
    """One's own account."""

    template: ClassVar[str] = "account.html"
    section: ClassVar[str] = ""
    user: str = documented("Name of the account; empty where nobody signs in here")
    may: str = documented("What the account may do")
    hours: int = documented("Hours without a page after which one is signed out")
    has_second_factor: bool = documented("Whether a code is asked for")
    secret: str = documented("A new secret for a code generator, or empty")
    generator: str = documented("The secret as a link that a code generator opens, or empty")
    codes: Sequence[str] = documented("Recovery codes just made, shown this once")
    shortest: int = documented("How many signs a password has at least")
    problem: str = documented("What was refused, or empty")
    said: str = documented("What has just been done, or empty")


@dataclass(frozen=True)
class AccountsPage:
    """All accounts."""

    template: ClassVar[str] = "accounts.html"
    section: ClassVar[str] = ""
    answer: str = documented("Who may do what, in one sentence")
    accounts: Sequence[AccountLine] = documented("The accounts, by name")
    link_for: str = documented("For whom a link was just made, or empty")
    address: str = documented("The link, shown this once, or empty")
    hours: int = documented("For how many hours a link holds")
    problem: str = documented("What was refused, or empty")
    open: bool = documented("Whether nobody has to sign in here")


@dataclass(frozen=True)
class ChangesPage:
    """Who changed what, when, from which page."""

    template: ClassVar[str] = "changes.html"
    section: ClassVar[str] = "works"
    zone: str = documented("IANA zone of the site")
    question: str = documented("The question, with the work or the room it is about")
    answer: str = documented("How many changes, and who made the last")
    changes: Sequence[AuditedChange] = documented("The changes, newest first")
    more: str = documented("Where older ones stand, or empty")
    places: Sequence[tuple[str, str]] = documented("Where one may go on to: words, address")
    tables: Sequence[str] = documented("Addresses of all of them as CSV and as XLSX")


ACCOUNT_PAGES = (SignInPage, WelcomePage, AccountPage, AccountsPage, ChangesPage)
