"""A web server of this machine that behaves as badly as a test wants."""

from __future__ import annotations

import gzip
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

#: A page that stands between a person and what they wanted.
LOGIN = b"<!DOCTYPE html><html><head><title>Sign in</title></head></html>"


class Server:
    """What the server sends, and which requests it has seen."""

    def __init__(self, httpd: ThreadingHTTPServer, scheme: str) -> None:
        self.url = f"{scheme}://127.0.0.1:{httpd.server_port}"
        self.seen: list[dict[str, str]] = []
        self.answer: Callable[[BaseHTTPRequestHandler], None] = sends(b"")

    def says(self, answer: Callable[[BaseHTTPRequestHandler], None]) -> None:
        """Answer like this from now on."""
        self.answer = answer


def sends(
    body: bytes, status: int = 200, **headers: str
) -> Callable[[BaseHTTPRequestHandler], None]:
    """A whole answer; ``_`` in header names stands for ``-``."""

    def answer(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(status)
        handler.send_header("Content-Length", str(len(body)))
        for name, value in headers.items():
            handler.send_header(name.replace("_", "-"), value)
        handler.end_headers()
        handler.wfile.write(body)

    return answer


def packed(body: bytes) -> Callable[[BaseHTTPRequestHandler], None]:
    """The body packed by gzip, as most servers send text."""
    return sends(gzip.compress(body), Content_Encoding="gzip")


def cut_off(body: bytes, announced: int) -> Callable[[BaseHTTPRequestHandler], None]:
    """Less than what was announced, then nothing."""

    def answer(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(200)
        handler.send_header("Content-Length", str(announced))
        handler.end_headers()
        handler.wfile.write(body)
        handler.close_connection = True

    return answer


def slowly(
    body: bytes, first_s: float = 0.0, each_s: float = 0.0, piece: int = 10
) -> Callable[[BaseHTTPRequestHandler], None]:
    """A pause before the answer, and one after each piece of it.

    The pauses end when the server does, so that they may be longer than any test.
    """

    def answer(handler: BaseHTTPRequestHandler) -> None:
        over = handler.server.over  # type: ignore[attr-defined]
        over.wait(first_s)
        try:
            handler.send_response(200)
            handler.send_header("Content-Length", str(len(body)))
            handler.end_headers()
            for start in range(0, len(body), piece):
                handler.wfile.write(body[start : start + piece])
                over.wait(each_s)
        except OSError:  # the other side has had enough
            handler.close_connection = True

    return answer


def in_turn(
    *answers: Callable[[BaseHTTPRequestHandler], None],
) -> Callable[[BaseHTTPRequestHandler], None]:
    """One answer after the other; the last for ever."""
    left = list(answers)

    def answer(handler: BaseHTTPRequestHandler) -> None:
        (left.pop(0) if len(left) > 1 else left[0])(handler)

    return answer


@contextmanager
def serving(certificate: Path | None = None) -> Iterator[Server]:
    """Run a server on loopback until the block ends."""
    found: list[Server] = []

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            headers = {key.lower(): value for key, value in self.headers.items()}
            found[0].seen.append({"path": self.path, **headers})
            self.close_connection = True
            found[0].answer(self)

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    class Quiet(ThreadingHTTPServer):
        daemon_threads = True
        over = threading.Event()

        def handle_error(self, *_: object) -> None:
            """A client that hangs up is what some tests want."""

    httpd = Quiet(("127.0.0.1", 0), Handler)
    if certificate is not None:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(certificate)
        httpd.socket = context.wrap_socket(httpd.socket, server_side=True)
    found.append(Server(httpd, "https" if certificate else "http"))
    thread = threading.Thread(target=httpd.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield found[0]
    finally:
        httpd.over.set()
        httpd.shutdown()
        httpd.server_close()
        thread.join(5)
