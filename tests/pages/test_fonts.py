"""The shipped fonts: small, licensed, and holding every letter the program writes."""

from importlib.resources import files
from pathlib import Path

import pytest
from matplotlib.ft2font import FT2Font

FONTS = Path(str(files("dashboards") / "static" / "fonts"))
NEEDED = "abcäéñøßÅ0123456789 %°½×−–·…“”’±"


@pytest.mark.parametrize("path", sorted(FONTS.glob("*.ttf")), ids=lambda path: path.name)
def test_a_font_is_small_and_holds_the_letters_we_write(path: Path) -> None:
    assert path.stat().st_size < 150_000
    assert path.with_suffix(".woff2").is_file()
    letters = FT2Font(str(path)).get_charmap()
    assert [sign for sign in NEEDED if ord(sign) not in letters] == []


def test_each_family_has_its_licence_beside_it() -> None:
    families = {path.name.rsplit("-", 2)[0] for path in FONTS.glob("*.ttf")}
    assert families == {"literata", "public-sans"}
    for family in families:
        text = (FONTS / f"{family}-LICENSE.txt").read_text()
        assert "SIL OPEN FONT LICENSE Version 1.1" in text
        assert "with Reserved Font Name" not in text
