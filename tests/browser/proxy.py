"""A proxy as studios put in front: it serves under a path of its own and lets no body of more than 1 MB pass."""

import http.client
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

MOST_BYTES = 1 << 20
_OWN = ("connection", "transfer-encoding", "keep-alive", "content-length")


@contextmanager
def proxied(address: str, path: str) -> Iterator[str]:
    """Serve what lies at `address` under `path` of another port; gives the address there."""
    behind = urlsplit(address)

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def handle_one_request(self) -> None:
            """Whatever the method is."""
            self.raw_requestline = self.rfile.readline(65537)
            if not self.raw_requestline or not self.parse_request():
                self.close_connection = True
                return
            self.handed_on()

        def handed_on(self) -> None:
            length = int(self.headers.get("Content-Length", 0))
            body = self.rfile.read(length)
            if not self.path.startswith(f"{path}/") or length > MOST_BYTES:
                self.send_response(413 if length > MOST_BYTES else 404)
                self.send_header("Content-Length", "0")
                self.end_headers()
                return
            headers = {name: value for name, value in self.headers.items() if name.lower() != "connection"}
            with closing(http.client.HTTPConnection(str(behind.hostname), behind.port)) as line:
                line.request(self.command, self.path[len(path) :], body, headers)
                with line.getresponse() as answer:
                    self.pass_on(answer)

        def pass_on(self, answer: http.client.HTTPResponse) -> None:
            self.send_response(answer.status)
            for name, value in answer.getheaders():
                if name.lower() not in _OWN:
                    self.send_header(name, value)
            self.send_header("Connection", "close")
            self.end_headers()
            try:
                while piece := answer.read1(65536):
                    self.wfile.write(piece)
                    self.wfile.flush()
            except (OSError, http.client.HTTPException, ValueError):
                pass  # one of the two has left
            self.close_connection = True

        def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}{path}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
