"""The shop's server for one test: `dying_server.py PORT FILE` dies between a write and its answer once FILE exists."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from socketserver import ThreadingMixIn
from typing import Any
from wsgiref.simple_server import WSGIServer, make_server

sys.path.insert(0, str(Path(__file__).parents[2]))

from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.wsgi import get_wsgi_application


class Server(ThreadingMixIn, WSGIServer):
    daemon_threads = True
    request_queue_size = 128  # five by default: a browser opens more at once, and is left waiting


def main(port: int, death: Path) -> None:
    shop = StaticFilesHandler(get_wsgi_application())

    def dying(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        answer: Iterable[bytes] = shop(environ, start_response)
        if environ["PATH_INFO"].endswith("/answer/") and death.exists():
            os._exit(9)
        return answer

    with make_server("localhost", port, dying, server_class=Server) as server:
        server.serve_forever()


if __name__ == "__main__":
    main(int(sys.argv[1]), Path(sys.argv[2]))
