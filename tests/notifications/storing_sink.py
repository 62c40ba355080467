"""A mail server that stores each message before it answers, so that a kill can fall in between."""

from __future__ import annotations

import socket
import threading
import time
from dataclasses import dataclass, field

__all__ = ["StoringSink"]


@dataclass
class StoringSink:
    """Speaks just enough SMTP; `stored` has every message as its bytes between DATA and the dot."""

    answer_seconds: float = 0.0
    """So long it waits between storing a message and saying yes."""
    stored: list[bytes] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._socket = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._socket.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def close(self) -> None:
        """Take no more connections."""
        self._socket.close()

    def _serve(self) -> None:
        while True:
            try:
                connection, _ = self._socket.accept()
            except OSError:
                return
            threading.Thread(target=self._talk, args=(connection,), daemon=True).start()

    def _talk(self, connection: socket.socket) -> None:
        with connection, connection.makefile("rwb") as stream:
            try:
                self._say(stream, b"220 sink")
                while line := stream.readline():
                    if line.upper().startswith(b"DATA"):
                        self._say(stream, b"354 go on")
                        self._store(stream)
                    elif line.upper().startswith(b"QUIT"):
                        self._say(stream, b"221 bye")
                        return
                    else:
                        self._say(stream, b"250 ok")
            except OSError:
                return  # whoever spoke was killed

    def _store(self, stream: object) -> None:
        lines: list[bytes] = []
        while (line := stream.readline()) != b".\r\n":  # type: ignore[attr-defined]
            if not line:
                return
            lines.append(line[1:] if line.startswith(b"..") else line)
        self.stored.append(b"".join(lines))
        if self.answer_seconds:
            time.sleep(self.answer_seconds)
        self._say(stream, b"250 stored")

    @staticmethod
    def _say(stream: object, words: bytes) -> None:
        stream.write(words + b"\r\n")  # type: ignore[attr-defined]
        stream.flush()  # type: ignore[attr-defined]
