"""Readers of pages in a process of their own: so many at once, so many requests in all."""

import itertools
import time
from concurrent.futures import ThreadPoolExecutor

import httpx
import numpy as np


def p95_ms(home: str, path: str, many: int, each: int, *, held: bool) -> float:
    """Return the 95th percentile of how long an answer took of readers who all ask at once [ms].

    ``held``: they have the page already and ask whether it is still so.
    """

    def read(_number: int) -> list[float]:
        with httpx.Client(base_url=home, timeout=3600.0, verify=False) as reader:
            mark = _answer(reader, path).headers["etag"] if held else ""
            headers = {"If-None-Match": mark} if held else {}
            times = []
            for _ in range(each):
                start = time.perf_counter()
                answer = _answer(reader, path, headers)
                times.append(1e3 * (time.perf_counter() - start))
                if held and answer.status_code != 304:
                    raise RuntimeError(f"{path} is said to have changed")
            return times

    with ThreadPoolExecutor(many) as pool:
        found = list(itertools.chain.from_iterable(pool.map(read, range(many))))
    return float(np.quantile(found, 0.95))


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
