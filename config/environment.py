"""What the environment says, read once, with every mistake told in one line each.

Any variable may also be given as `NAME_FILE`, the path of a file that holds the value.
"""

from __future__ import annotations

import os
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import urlsplit

from environs import EnvError, FileAwareEnv

from config.databases import DatabaseUrlError, database
from config.mail import MailUrlError, mail

BASE_DIR = Path(__file__).resolve().parent.parent
LOG_LEVELS = ("DEBUG", "INFO", "WARNING", "ERROR")
T = TypeVar("T")


class SettingsError(Exception):
    """One or more variables of the environment are wrong; each line of the message says which and how."""


@dataclass(frozen=True, slots=True)
class PublicUrl:
    """The address by which people reach this installation, or none: then only this machine does."""

    url: str = ""
    scheme: str = "http"
    host: str = ""

    @property
    def is_https(self) -> bool:
        return self.scheme == "https"

    @property
    def hosts(self) -> list[str]:
        """The Host headers answered."""
        return [self.host] if self.host else ["localhost", "127.0.0.1", "[::1]"]

    @property
    def trusted_origins(self) -> list[str]:
        """The origins from which a form is accepted besides the Host's own."""
        return [self.url] if self.url else []


@dataclass(frozen=True, slots=True)
class Environment:
    """Every setting an installation can choose."""

    data: Path
    database: dict[str, Any]
    public_url: PublicUrl
    secret_key: str
    time_zone: str
    tile_url: str
    tile_attribution: str
    trust_proxy: bool
    mail: dict[str, Any]
    mail_from: str
    log_level: str
    debug: bool
    is_demo: bool


def public_url(text: str) -> PublicUrl:
    """`PUBLIC_URL` taken apart. ValueError unless it is http(s)://host[:port] without a path."""
    if not text:
        return PublicUrl()
    parts = urlsplit(text.strip())
    clean = parts.path in ("", "/") and not parts.query and not parts.fragment and "@" not in parts.netloc
    if parts.scheme not in ("http", "https") or not parts.hostname or not clean:
        raise ValueError(f"{text!r} is not an address like https://plots.example.org, without a path")
    host = f"[{parts.hostname}]" if ":" in parts.hostname else parts.hostname
    return PublicUrl(f"{parts.scheme}://{parts.netloc}", parts.scheme, host)


def tile_host(tile_url: str) -> str:
    """The source that the content security policy must let pictures come from; empty without tiles.

    A `{s}` before the host stands for several hosts, so it becomes a wildcard.
    """
    if not tile_url:
        return ""
    parts = urlsplit(tile_url)
    host = parts.netloc
    if host.startswith("{s}."):
        host = "*." + host.removeprefix("{s}.")
    if parts.scheme not in ("http", "https") or not host or "{" in host or "@" in host:
        raise ValueError(f"{tile_url!r} is not an address like https://tiles.example.org/{{z}}/{{x}}/{{y}}.png")
    if not all(part in tile_url for part in ("{z}", "{x}", "{y}")):
        raise ValueError(f"{tile_url!r} must hold {{z}}, {{x}} and {{y}}")
    return f"{parts.scheme}://{host}"


def _time_zone(name: str) -> str:
    if name not in zoneinfo.available_timezones():
        raise ValueError(f"{name!r} is not a time zone like America/Chicago")
    return name


def _secret(text: str) -> str:
    if text and len(text) < 50:
        raise ValueError(f"has {len(text)} characters; at least 50 are wanted, all random")
    return text


def read() -> Environment:
    """The settings from the environment. SettingsError lists everything that is wrong with them."""
    env = FileAwareEnv(strip_whitespace=True)
    problems: list[str] = []

    def ask(name: str, default: T, convert: Callable[[str], T]) -> T:
        try:
            text = env.str(name, default="")
            return convert(text) if text else default
        except (EnvError, ValueError, DatabaseUrlError, MailUrlError) as error:
            problems.append(f"{name}: {error}")
            return default

    def yes(name: str, default: bool) -> bool:
        try:
            return env.bool(name, default=default) if env.str(name, default="") else default
        except (EnvError, ValueError):
            problems.append(f"{name}: give 1 for yes or 0 for no")
            return default

    data = ask("SWEETGROUND_DATA", BASE_DIR / "data", lambda text: Path(text).expanduser().absolute())
    public = ask("PUBLIC_URL", PublicUrl(), public_url)
    tiles = ask("TILE_URL", "", lambda text: text if tile_host(text) else "")
    pool = ask("DATABASE_POOL", 0, _pool_size)
    found = Environment(
        data=data,
        database=ask("DATABASE_URL", database("", data=data), lambda text: database(text, data=data, pool=pool)),
        public_url=public,
        secret_key=ask("SECRET_KEY", "", _secret),
        time_zone=ask("TIME_ZONE", "America/Chicago", _time_zone),
        tile_url=tiles,
        tile_attribution=ask("TILE_ATTRIBUTION", "", str),
        # Nothing but a proxy in front can bring https here, so an https address means that there is one.
        trust_proxy=yes("TRUST_PROXY", public.is_https),
        mail=ask("MAIL_URL", mail(""), mail),
        mail_from=ask("MAIL_FROM", "sweetground@localhost", str),
        log_level=ask("LOG_LEVEL", "INFO", _log_level),
        debug=yes("SWEETGROUND_DEBUG", False),
        is_demo=yes("SWEETGROUND_DEMO", False),
    )
    if problems:
        raise SettingsError("\n".join(problems))
    return found


def _pool_size(text: str) -> int:
    if not text.isdecimal() or not 0 <= int(text) <= 100:
        raise ValueError(f"{text!r} is not a whole number from 0 (no pool) to 100")
    return int(text)


def _log_level(text: str) -> str:
    if text.upper() not in LOG_LEVELS:
        raise ValueError(f"{text!r} is none of {', '.join(LOG_LEVELS)}")
    return text.upper()


def demo_password() -> str:
    """The password that the demonstration's accounts get, or empty for random ones."""
    return FileAwareEnv(strip_whitespace=True).str("SWEETGROUND_DEMO_PASSWORD", default="")


def first_manager() -> tuple[str, str]:
    """Name and password of the first manager as given in the environment; empty where not."""
    env = FileAwareEnv(strip_whitespace=True)
    return (
        env.str("SWEETGROUND_MANAGER", default=""),
        env.str("SWEETGROUND_MANAGER_PASSWORD", default=""),
    )


def is_checkout_data(data: Path) -> bool:
    """Whether the data folder is the default one beside the code."""
    return os.path.realpath(data) == os.path.realpath(BASE_DIR / "data")
