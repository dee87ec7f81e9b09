"""Forms that were kept: the same form sent again is recognised, and changes nothing."""

from service.storage.register import Register, now_utc
from service.storage.schema import SentFormRow


def first_time(register: Register, form: str, what: str) -> bool:
    """Note a form inside the open transaction; return whether it is sent for the first time.

    Parameters
    ----------
    form : str
        What names the form: made when its page was drawn, or on the phone. Empty: it has no name,
        and is taken as new.
    what : str
        What it was about, for whoever reads the table.
    """
    if not form:
        return True
    with register.writing() as session:
        if session.get(SentFormRow, form) is not None:
            return False
        session.add(SentFormRow(form=form[:100], at_utc=now_utc(), what=what))
        session.flush()
        return True
