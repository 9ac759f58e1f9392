"""The desk as a web application: one page, its assets, and the bench’s answers, for one teacher on this machine.

Whoever asks must have the token, must ask this address by its own name, and must not come from another page.
"""

import secrets
from collections.abc import Callable
from functools import partial
from inspect import signature
from pathlib import Path
from threading import Lock
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.base import BaseHTTPMiddleware, RequestResponseEndpoint
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from rulekit.desk.bench import Bench, Data, problem_data
from rulekit.desk.shelf import Shelf
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.page.render import asset as page_asset
from rulekit.solving.graph import Exhausted

ADDRESS = "127.0.0.1"
_ASSETS = Path(__file__).parent / "assets"
_KINDS = {".html": "text/html", ".css": "text/css", ".js": "text/javascript"}
_MOST_BYTES = 2_000_000  # of a question
_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
_ANSWERS = (
    "files", "file", "save", "look", "mends", "meaning", "offers", "examples", "mark", "standing", "because", "put",
    "begun", "complete", "mended", "why", "changes", "lines", "numbers",
)  # fmt: skip


def new_token() -> str:
    """A word that nobody can guess."""
    return secrets.token_urlsafe(24)


def application(folder: Path, token: str, port: int) -> Starlette:
    """The desk of a folder, served at a port of this machine."""
    bench, lock = Bench(Shelf(folder)), Lock()
    answers: dict[str, Callable[..., Data]] = {name: getattr(bench, name) for name in _ANSWERS}
    hosts = {f"{ADDRESS}:{port}", f"localhost:{port}"}

    async def guard(request: Request, call_next: RequestResponseEndpoint) -> Response:
        response = await call_next(request) if _may_ask(request, token, hosts) else _refusal()
        response.headers["Content-Security-Policy"] = _POLICY
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "no-referrer"
        response.headers["Cache-Control"] = "no-store"
        return response

    async def answer(request: Request) -> Response:
        name = request.path_params["name"]
        body = await request.body()
        if name not in answers or len(body) > _MOST_BYTES:
            return PlainTextResponse("there is no such question", 404)
        try:
            asked = await request.json()
            signature(answers[name]).bind(**asked)
        except (ValueError, TypeError):
            return PlainTextResponse("this can’t be asked so", 400)
        return JSONResponse(await run_in_threadpool(partial(_answered, answers[name], asked, lock)))

    async def asset(request: Request) -> Response:
        name = request.path_params.get("name", "desk.html")
        if name == "page.css":
            return Response(page_asset(name), media_type="text/css")
        if name not in ("desk.html", "desk.css", "desk.js"):
            return PlainTextResponse("there is no such page", 404)
        text = (_ASSETS / name).read_text(encoding="utf-8").replace("{{token}}", token)
        return Response(text, media_type=_KINDS[Path(name).suffix])

    routes = [
        Route("/", asset), Route("/assets/{name}", asset), Route("/ask/{name}", answer, methods=["POST"]),
    ]  # fmt: skip
    return Starlette(routes=routes, middleware=[Middleware(BaseHTTPMiddleware, dispatch=guard)])


def _may_ask(request: Request, token: str, hosts: set[str]) -> bool:
    host, origin = request.headers.get("host", ""), request.headers.get("origin")
    given = request.headers.get("x-desk-token") or request.query_params.get("token", "")
    comes_from_here = origin is None or origin in {f"http://{each}" for each in hosts}
    return host in hosts and comes_from_here and secrets.compare_digest(given.encode(), token.encode())


def _refusal() -> Response:
    return PlainTextResponse("this desk is another’s: open the address that was printed when it was started", 403)


def _answered(answer: Callable[..., Data], asked: dict[str, Any], lock: Lock) -> Data:
    """An answer; what can’t be read is told in it, and so is a search that was too long."""
    try:
        with lock:
            return answer(**asked)
    except RulekitError as error:
        return {"refused": list(map(problem_data, error.diagnostics))}
    except Exhausted as stop:
        return {"refused": [problem_data(Diagnostic("", 0, 0, 0, stop.why))]}
    except (ValueError, IndexError) as error:
        return {"refused": [problem_data(Diagnostic("", 0, 0, 0, str(error)))]}
