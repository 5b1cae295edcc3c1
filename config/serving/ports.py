"""Whether an address can be served on."""

from __future__ import annotations

import errno
import ipaddress
import socket

REASONS = {
    errno.EADDRINUSE: "is in use by another program; choose another with --port",
    errno.EACCES: "needs more rights than this account has; choose one from 1024 up with --port",
    errno.EADDRNOTAVAIL: "is not an address of this machine",
}


def problem_with(host: str, port: int) -> str:
    """Why this address cannot be served on, or empty. Binds it plainly, as nobody shares a port with strangers."""
    try:
        family, kind, _, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    except socket.gaierror:
        return f"{host!r} is not an address of this machine"
    with socket.socket(family, kind) as trial:
        # A port whose last connections are still timing out is free; one that is listened on is not.
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind(address)
        except OSError as error:
            return f"{host} port {port} {REASONS.get(error.errno or 0, error.strerror)}"
        return ""


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach the address."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
