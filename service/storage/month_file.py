"""One logger's month as a Parquet file: ``time_utc, temp_c, rh_pct, flags``, sorted, unique."""

import hashlib
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from service.errors import StoreError
from service.storage.merging import Rows

SCHEMA = pa.schema(
    [
        pa.field("time_utc", pa.timestamp("ms", "UTC"), nullable=False),
        pa.field("temp_c", pa.float64()),
        pa.field("rh_pct", pa.float64()),
        pa.field("flags", pa.int32(), nullable=False),
    ]
)
DIGEST = b"stilltaut_digest"


def digest_of(rows: Rows) -> str:
    """Return a hash of the readings themselves, whatever file they lie in."""
    content = hashlib.sha256()
    for column in (rows.time_ms, rows.temp_c, rows.rh_pct, rows.flags):
        content.update(np.ascontiguousarray(column).data)
    return content.hexdigest()


def encode(rows: Rows) -> pa.Buffer:
    """Return the bytes of a month's file. A missing value is null there and NaN here."""
    table = pa.Table.from_arrays(
        [
            pa.array(rows.time_ms, pa.int64()).cast(SCHEMA.field("time_utc").type),
            pa.array(rows.temp_c, from_pandas=True),
            pa.array(rows.rh_pct, from_pandas=True),
            pa.array(rows.flags),
        ],
        schema=SCHEMA.with_metadata({DIGEST: digest_of(rows)}),
    )
    out = pa.BufferOutputStream()
    pq.write_table(
        table,
        out,
        compression="snappy",
        write_statistics=["time_utc"],
        use_dictionary=["temp_c", "rh_pct", "flags"],
        column_encoding={"time_utc": "DELTA_BINARY_PACKED"},
    )
    return out.getvalue()


def read(path: Path) -> Rows:
    """Return the rows of a month's file.

    Raises
    ------
    StoreError
        If the file cannot be read or is not a month of readings.
    """
    try:
        with pq.ParquetFile(path, memory_map=False) as file:
            table = file.read(use_threads=False)
        return _rows(table.select(SCHEMA.names))
    except (OSError, pa.ArrowException, KeyError) as problem:
        raise _damaged(path, str(problem).splitlines()[0]) from problem


def _rows(table: pa.Table) -> Rows:
    time, temp, rh, flags = (column.combine_chunks() for column in table.columns)
    return Rows(
        time.cast(pa.timestamp("ms", "UTC")).cast(pa.int64()).to_numpy(zero_copy_only=False),
        temp.cast(pa.float64()).to_numpy(zero_copy_only=False),
        rh.cast(pa.float64()).to_numpy(zero_copy_only=False),
        flags.cast(pa.int32()).to_numpy(zero_copy_only=False),
    )


def noted_digest(path: Path) -> str:
    """Return the hash noted in the file when it was written; reads only its footer.

    Raises
    ------
    StoreError
        If the file cannot be read.
    """
    try:
        with pq.ParquetFile(path) as file:
            noted = (file.schema_arrow.metadata or {}).get(DIGEST)
    except (OSError, pa.ArrowException) as problem:
        raise _damaged(path, str(problem).splitlines()[0]) from problem
    return noted.decode() if noted else digest_of(read(path))


def _damaged(path: Path, found: str) -> StoreError:
    return StoreError(
        read=f"readings, {path.parent.name}",
        where=path.name,
        found=found,
        expected="a Parquet file of readings",
        action="Move the file away and run `stilltaut check`: what was added by a file is merged "
        "again from the original.",
    )
