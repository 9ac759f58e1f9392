"""A desk served as the command serves it, and a folder of an invented class."""

import http.client
import json
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from rulekit.desk.app import ADDRESS, application

RULES = """ruleset "Thursday class"
build on first-species-lenient

rule narrow
  "{interval} is too wide for us."
  for every interval between each pair
  forbid interval is wider than tenth
  warning
  source "our class"
  accepts
    | upper E5
    | lower C4
  rejects at bar 1
    | upper F5
    | lower C4
"""
NOTES = """exercise: Wenke Oudshoorn
mode: D dorian
upper   A4 G4 A4 F4 E4 D4 C#4 D4
cantus  D4 E4 F4 D4 C4 F4 E4 D4
"""
CANTUS = """exercise: cantus
mode: D dorian
upper   ? ? ? ? ? ?
cantus  D4 F4 E4 F4 E4 D4
"""


@dataclass(frozen=True, slots=True)
class Served:
    """A desk at a port, and who may ask it."""

    folder: Path
    port: int
    token: str

    @property
    def address(self) -> str:
        return f"http://{ADDRESS}:{self.port}/?token={self.token}"

    def ask(self, name: str, asked: object = None, **headers: str) -> tuple[int, Any]:
        """The status and the answer to a question, headers given instead of the page’s own."""
        sent = {
            "x-desk-token": self.token,
            "content-type": "application/json",
            **{k.replace("_", "-"): v for k, v in headers.items()},
        }
        connection = http.client.HTTPConnection(ADDRESS, self.port, timeout=60)
        connection.request("POST", f"/ask/{name}", json.dumps(asked or {}), sent)
        response = connection.getresponse()
        body = response.read()
        return response.status, json.loads(body) if response.status == 200 else body.decode()


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    folder = tmp_path / "thursday"
    folder.mkdir()
    for name, text in (("thursday.rules", RULES), ("wenke.notes", NOTES), ("cantus.notes", CANTUS)):
        (folder / name).write_text(text, encoding="utf-8")
    listening = socket.create_server((ADDRESS, 0))
    port = listening.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(application(folder, "a-token", port), log_level="critical", lifespan="off"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield Served(folder, port, "a-token")
    server.should_exit = True
    thread.join(10)
