"""A proxy as studios put in front: it serves under a path of its own and lets no body of more than 1 MB pass."""

import http.client
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

MOST_BYTES = 1 << 20
_OWN = ("connection", "transfer-encoding", "keep-alive", "content-length")


class Proxy(ThreadingHTTPServer):
    """Passes on what is asked for below `path`, without it."""

    daemon_threads = True

    def __init__(self, address: str, path: str) -> None:
        super().__init__(("127.0.0.1", 0), Passing)
        self.behind = urlsplit(address)
        self.path = path


class Passing(BaseHTTPRequestHandler):
    """One line to a browser; one request, one answer."""

    protocol_version = "HTTP/1.1"
    server: Proxy

    def handle_one_request(self) -> None:
        """Whatever the method is."""
        self.close_connection = True
        self.raw_requestline = self.rfile.readline(65537)
        if self.raw_requestline and self.parse_request():
            self.close_connection = True
            self.hand_on()

    def hand_on(self) -> None:
        length = int(self.headers.get("Content-Length", 0))
        body = self.rfile.read(length)
        if not self.path.startswith(f"{self.server.path}/") or length > MOST_BYTES:
            self.refuse(413 if length > MOST_BYTES else 404)
            return
        headers = {name: value for name, value in self.headers.items() if name.lower() != "connection"}
        behind = self.server.behind
        with closing(http.client.HTTPConnection(str(behind.hostname), behind.port)) as line:
            line.request(self.command, self.path.removeprefix(self.server.path), body, headers)
            with line.getresponse() as answer, suppress(OSError, http.client.HTTPException, ValueError):
                self.hand_back(answer)

    def refuse(self, status: int) -> None:
        self.send_response(status)
        self.send_header("Content-Length", "0")
        self.send_header("Connection", "close")
        self.end_headers()

    def hand_back(self, answer: http.client.HTTPResponse) -> None:
        """What comes is sent on at once, until one of the two leaves."""
        self.send_response(answer.status)
        for name, value in answer.getheaders():
            if name.lower() not in _OWN:
                self.send_header(name, value)
        self.send_header("Connection", "close")
        self.end_headers()
        while piece := answer.read1(65536):
            self.wfile.write(piece)
            self.wfile.flush()

    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        """Say nothing."""


@contextmanager
def proxied(address: str, path: str) -> Iterator[str]:
    """Serve what lies at `address` under `path` of another port; gives the address there."""
    with Proxy(address, path) as proxy:
        thread = threading.Thread(target=proxy.serve_forever, daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{proxy.server_port}{path}/"
        finally:
            proxy.shutdown()
            thread.join()
