"""A real SMTP server for tests: it takes letters, refuses some, or hangs up, as its addresses say."""

from asyncio import Transport
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from studio.embedded import free_port


class PostOffice:
    """Letters that arrived, in order.

    Addresses at `refused.example` are refused, at `full.example` refused after the text, and at `cut.example` the
    connection is cut once the text is in.
    """

    def __init__(self) -> None:
        self.letters: list[EmailMessage] = []
        self.host, self.port = "127.0.0.1", free_port()
        self.controller: Controller | None = None

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[Any]
    ) -> str:
        if address.endswith("@refused.example"):
            return "550 No such mailbox"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        if envelope.rcpt_tos[0].endswith("@full.example"):
            return "452 The mailbox is full"
        if envelope.rcpt_tos[0].endswith("@cut.example"):
            self.cut(server)
        content = envelope.content
        letter = message_from_bytes(content if isinstance(content, bytes) else b"", policy=policy.default)
        assert isinstance(letter, EmailMessage)
        self.letters.append(letter)
        return "250 Taken"

    def cut(self, server: SMTP) -> None:
        assert isinstance(server.transport, Transport)
        server.transport.abort()

    @property
    def url(self) -> str:
        return f"smtp://{self.host}:{self.port}"

    def to(self, address: str) -> list[EmailMessage]:
        return [letter for letter in self.letters if letter["To"] == address]

    def open(self) -> None:
        self.controller = Controller(self, hostname=self.host, port=self.port, ready_timeout=10)
        self.controller.start()

    def close(self) -> None:
        if self.controller:
            self.controller.stop()
        self.controller = None
