"""Long files: several sensors below one another, told apart by a column that names them."""

import re
from collections.abc import Collection, Mapping, Sequence

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from service.ingest.columns import said_heading
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.quantities import is_quality, quantity_of, words_of
from service.ingest.table import Table

MOST_SENSORS = 1000
_NAMES_A_SENSOR = re.compile(
    r"sensor|logger|station|location|\broom|\bsite\b|channel|\bpoint|device|serial|\bmote|origin"
    r"|\bstn\b|\bid\b|\braum|\bort\b|salle|\blieu|\bsala\b|standort|messstelle|sonde|capteur"
    r"|fuhler|anturi|huone|\brum\b|\brom\b|ruimte|\bunit\b|\bnode\b|\bplace\b|gallery|kanal"
)


def sensor_heading(
    name: str,
    layout: Layout,
    headings: Sequence[Heading],
    taken: Collection[int],
    said: Mapping[str, str],
) -> Heading | None:
    """Return the column that may name the sensor of each row, or None."""
    if "sensor" in said:
        return said_heading(name, headings, "sensor", said["sensor"])
    likely = [
        heading
        for heading in headings
        if heading.index not in taken
        and layout.kinds[heading.index] in ("text", "number")
        and any(_is_name(words_of(text)) for text in heading.texts)
        and len(set(layout.column(heading.index))) <= max(1, len(layout.rows) // 2)
    ]
    likely.sort(key=lambda heading: (layout.kinds[heading.index] == "number", heading.index))
    varied = [heading for heading in likely if len(set(layout.column(heading.index))) > 1]
    found = varied or likely
    return found[0] if found else None


def _is_name(words: str) -> bool:
    names = bool(_NAMES_A_SENSOR.search(words))
    return names and not is_quality(words) and quantity_of(words) is None


def sensor_codes(
    heading: Heading | None, table: Table
) -> tuple[list[str], npt.NDArray[np.int64]] | None:
    """Return the sensors' names and each row's number among them, or None for a single one."""
    if heading is None:
        return None
    names = pc.utf8_trim_whitespace(table.texts[heading.index])
    if isinstance(names, pa.ChunkedArray):
        names = names.combine_chunks()
    coded = names.dictionary_encode()
    known = [str(label) for label in coded.dictionary.to_pylist()]
    if not 1 < len(known) <= min(MOST_SENSORS, max(1, len(names) // 2)):
        return None
    indices = coded.indices.fill_null(len(known)).to_numpy(zero_copy_only=False)
    if names.null_count:
        known.append("")
    return known, indices.astype(np.int64)
