"""The four roles, each of which may also do what those before it may."""

from enum import StrEnum


class Role(StrEnum):
    """What a person may do."""

    LOOK = "look"
    CARE = "care"
    KEEP = "keep"
    ADMINISTER = "administer"

    def may(self, needed: "Role") -> bool:
        """Whether somebody of this role may do what needs another.

        Examples
        --------
        >>> Role.KEEP.may(Role.CARE), Role.LOOK.may(Role.CARE)
        (True, False)
        """
        order = list(Role)
        return order.index(self) >= order.index(needed)


def role_named(text: str) -> Role | None:
    """Return the role of that name, or None."""
    return Role(text) if text in list(Role) else None
