"""What the scripts of the pages say, for a house whose language is not English.

A script holds its words in English and looks each up among those that the page carries.
"""

import json

from dashboards.text.messages import N_, language, translated

SAID = (
    N_("light page"),
    N_("dark gallery"),
    N_("Nothing that was typed is lost."),
    N_("Sent {share} %"),
    N_("Reading it…"),
    N_("The file did not arrive. Nothing was stored; please send it again."),
    N_("One look is kept on this phone; it is sent when there is a connection."),
    N_("{many} looks are kept on this phone; they are sent when there is a connection."),
    N_("Send now"),
    N_(
        "At this address the browser keeps no page for later: where there is no connection, take "
        "the printed round."
    ),
    N_("Clear this phone"),
    N_("That was the last one."),
    N_("That was the last one on this page."),
    N_("The rooms after these"),
    N_("Next: {title}, {room}"),
    N_("You are signed out: sign in to send it."),
    N_("Your account may not send it."),
    N_("Kept on this phone: {title}, {grade}."),
    N_("Its photograph is not: there is no room for it."),
    N_("Not saved: there is no connection and this phone keeps nothing. Write it on paper."),
    N_("It replaces the first"),
    N_("Both count"),
    N_("Not saved: {why}"),
    N_("it was not understood"),
    N_("Undo"),
    N_("It was not taken back: do it on the page of the work."),
    N_("There is no connection: undo it on the page of the work."),
    N_("Taken back: {title}."),
    N_("Saved: {look}"),
    N_("Not saved: this photograph cannot be read. Choose another, or send the look without it."),
    N_("This phone keeps no name and no page any more."),
)


def script_words() -> str:
    """Return what scripts say in the language of the page, as JSON by the English; "" in English.

    Examples
    --------
    >>> script_words()
    ''
    """
    if language() == "en":
        return ""
    return json.dumps({one: translated(one) for one in SAID}, ensure_ascii=False)
