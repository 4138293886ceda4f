"""Where the page lives: its address, and the key that opens it."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field


def new_key() -> str:
    """A key nobody guesses: 192 bits, made at each start."""
    return secrets.token_urlsafe(24)


@dataclass(frozen=True)
class House:
    """Address and key of one running page.

    `address` is the host as a browser writes it; with a port it is what every request must name exactly.
    """

    address: str
    port: int
    key: str = field(repr=False)

    @property
    def host(self) -> str:
        """The Host header of every request that means us."""
        return f"{self.address}:{self.port}"

    @property
    def origin(self) -> str:
        """The Origin of every page that is ours."""
        return f"http://{self.host}"

    @property
    def cookie(self) -> str:
        """Name of the cookie with the key; cookies ignore ports, so the port is in the name."""
        return f"steadfold-{self.port}"

    @property
    def link(self) -> str:
        """What the owner opens once."""
        return f"{self.origin}/?key={self.key}"
