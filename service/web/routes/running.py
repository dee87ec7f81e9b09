"""What whoever runs the service asks it: is it alive, can it do its work, what are its figures."""

from fastapi import APIRouter
from fastapi.responses import PlainTextResponse
from prometheus_client import CONTENT_TYPE_LATEST

from service.web.observed import figures, not_ready
from service.web.routes.common import JobsDep, MuseumDep

router = APIRouter()


@router.get("/health")
def health() -> PlainTextResponse:
    """Say that this process answers."""
    return PlainTextResponse("alive\n")


@router.get("/ready")
def ready(museum: MuseumDep, jobs: JobsDep) -> PlainTextResponse:
    """Say whether the stores can be written and files are taken in."""
    stores = museum.stores
    found = not_ready(stores.register, stores.folder, stores.objects, jobs_alive=jobs.alive)
    words = "; ".join(found) or "ready"
    return PlainTextResponse(f"{words}\n", 503 if found else 200)


@router.get("/metrics")
def metrics(museum: MuseumDep) -> PlainTextResponse:
    """Return the figures of the service, in the text form that Prometheus reads."""
    answer = PlainTextResponse(figures(museum.stores.register))
    answer.headers["Content-Type"] = CONTENT_TYPE_LATEST
    return answer
