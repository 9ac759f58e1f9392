"""``rulekit desk``."""

import argparse
import hashlib
import socket
import webbrowser
from pathlib import Path

from rulekit.cli.status import GOOD, UNUSABLE
from rulekit.cli.telling import lacking
from rulekit.show.terminal import complain, say

_FIRST_PORT, _PORTS = 49152, 16384  # those that are nobody's: RFC 6335, dynamic ports


def arguments(parser: argparse.ArgumentParser) -> None:
    """The folder, and whether to open a browser."""
    parser.add_argument(
        "folder", nargs="?", type=Path, default=Path(), metavar="FOLDER", help="what is on the desk (.)"
    )
    parser.add_argument("--port", type=_port, default=0, metavar="N", help="at this port of this machine")
    parser.add_argument("--no-browser", action="store_true", help="print the address instead of opening it")


def run(args: argparse.Namespace) -> int:
    """Serve the desk until it is interrupted."""
    try:
        import uvicorn

        from rulekit.desk.app import ADDRESS, application, new_token
    except ModuleNotFoundError as error:
        complain([lacking(error.name, "desk")])
        return UNUSABLE
    if not args.folder.is_dir():
        complain([f"{args.folder}: this is no folder"])
        return UNUSABLE
    token = new_token()
    try:
        listening = _listening(ADDRESS, args.port, args.folder)
    except OSError as error:
        complain([f"port {args.port}: {error.strerror}"])
        return UNUSABLE
    port = listening.getsockname()[1]
    address = f"http://{ADDRESS}:{port}/?token={token}"
    say(f"The desk of {args.folder.resolve().name} is at {address}\nInterrupt it (Ctrl-C) to put it away.")
    if not args.no_browser:
        webbrowser.open(address)
    served = uvicorn.Config(application(args.folder, token, port), log_level="critical", lifespan="off")
    uvicorn.Server(served).run(sockets=[listening])
    return GOOD


def _listening(address: str, port: int, folder: Path) -> socket.socket:
    """A socket at a port, or else at the folder’s own, so that a browser finds its drafts again; if that is taken, any.

    Raises OSError.
    """
    if port:
        return socket.create_server((address, port))
    own = int.from_bytes(hashlib.sha256(str(folder.resolve()).encode("utf-8", "surrogatepass")).digest()[:4])
    try:
        return socket.create_server((address, _FIRST_PORT + own % _PORTS))
    except OSError:
        return socket.create_server((address, 0))


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"‘{text}’ is not a port from 0 to 65535")
    return int(text)
