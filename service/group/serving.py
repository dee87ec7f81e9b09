"""The group as the server starts it."""

from service.group.group_app import Group
from service.log_lines import begin_logging
from service.settings import load_settings


def app_of_this_process() -> Group:
    """Return the group by the settings of the environment."""
    settings = load_settings()
    begin_logging(settings.log)
    return Group(settings)
