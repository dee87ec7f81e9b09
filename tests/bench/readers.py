"""Readers of pages in a process of their own: so many at once, so many requests in all."""

import itertools
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from http import HTTPStatus
from http.client import HTTPConnection

import httpx
import numpy as np


def p95_ms(home: str, path: str, many: int, each: int, *, held: bool) -> float:
    """Return the 95th percentile of how long an answer took of readers who all ask at once [ms].

    ``held``: they have the page already and ask whether it is still so.
    """

    wanted = HTTPStatus.NOT_MODIFIED if held else HTTPStatus.OK
    all_here = threading.Barrier(many)

    def read(_number: int) -> list[float]:
        # The plainest client there is: what it costs is counted as if it were the server's.
        with closing(HTTPConnection(home.removeprefix("http://"), timeout=3600.0)) as reader:
            headers = {"Accept-Encoding": "gzip"}
            if held:
                headers["If-None-Match"] = _asked(reader, path, headers, HTTPStatus.OK)
            all_here.wait()
            times = []
            for _ in range(each):
                start = time.perf_counter()
                _asked(reader, path, headers, wanted)
                times.append(1e3 * (time.perf_counter() - start))
            return times

    with ThreadPoolExecutor(many) as pool:
        found = list(itertools.chain.from_iterable(pool.map(read, range(many))))
    return float(np.quantile(found, 0.95))


def _asked(reader: HTTPConnection, path: str, headers: dict[str, str], wanted: int) -> str:
    """Ask for a page; return the mark that came with it."""
    reader.request("GET", path, headers=headers)
    answer = reader.getresponse()
    answer.read()
    if answer.status != wanted:
        raise RuntimeError(f"{path}: {answer.status}, not {wanted}")
    return answer.headers["etag"]


def read_all(home: str, paths: list[str], many: int, requests: int) -> None:
    """Ask for pages one after another, by so many readers at once."""

    def read(number: int) -> None:
        with httpx.Client(base_url=home, timeout=3600.0, verify=False) as reader:
            for one in range(number, requests, many):
                _answer(reader, paths[one % len(paths)])

    with ThreadPoolExecutor(many) as pool:
        list(pool.map(read, range(many)))


def _answer(
    reader: httpx.Client, path: str, headers: dict[str, str] | None = None
) -> httpx.Response:
    answer = reader.get(path, headers=headers)
    if answer.status_code not in (200, 304):
        raise RuntimeError(f"{path}: {answer.status_code} {answer.text[:200]}")
    return answer
