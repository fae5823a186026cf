"""The service's settings: read once from the environment, checked, frozen.

Each setting is one row of `SETTINGS`; the listing shows name, default, value and source, secrets masked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from ipaddress import IPv4Network, IPv6Network, ip_network
from pathlib import Path
from typing import Any, Literal
from urllib.parse import urlsplit

Environment = Literal["development", "production"]

DEVELOPMENT_PEPPER = "for development only, never for real keys"
SHORTEST_PEPPER = 32


class SettingsError(ValueError):
    """One or more settings are wrong; the message names each of them."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What the environment decides. URLs are PostgreSQL's; sizes are bytes, times seconds."""

    database_url: str | None
    database_owner_url: str | None
    data_dir: Path
    environment: Environment
    key_pepper: str
    max_body_bytes: int
    max_import_bytes: int
    pool_size: int
    statement_timeout_s: int
    idempotency_hours: int
    rate_limit_redis_url: str | None
    ballparks_per_key: int
    ballparks_per_address: int
    processes: int
    webhook_test_network: IPv4Network | IPv6Network | None

    @property
    def embedded(self) -> bool:
        """Whether the service starts a PostgreSQL of its own."""
        return self.database_url is None


@dataclass(frozen=True, slots=True)
class Setting:
    """How one setting is read: its default as text, and what it means."""

    name: str
    default: str | None
    read: Callable[[str], Any]
    meaning: str
    secret: bool = False


@dataclass(frozen=True, slots=True)
class SettingInForce:
    """One row of the listing. `value` is masked where the setting is a secret."""

    name: str
    value: str
    default: str
    source: Literal["environment", "default"]
    meaning: str


def _postgres_url(text: str) -> str:
    if urlsplit(text).scheme not in {"postgresql", "postgres", "postgresql+psycopg"}:
        raise ValueError("must be a postgresql:// address")
    return text


def _redis_url(text: str) -> str:
    if urlsplit(text).scheme not in {"redis", "rediss", "redis+unix"}:
        raise ValueError("must be a redis:// address")
    return text


def _positive(text: str) -> int:
    number = int(text) if text.isdecimal() else 0
    if number < 1:
        raise ValueError("must be a whole number above 0")
    return number


def _environment(text: str) -> str:
    if text not in {"development", "production"}:
        raise ValueError("must be development or production")
    return text


def _network(text: str) -> IPv4Network | IPv6Network:
    try:
        return ip_network(text)
    except ValueError:
        raise ValueError("must be a network such as 127.0.0.1/32") from None


def _folder(text: str) -> Path:
    return Path(text).expanduser().absolute()


SETTINGS: tuple[Setting, ...] = (
    Setting("DATABASE_URL", None, _postgres_url, "PostgreSQL to use; without it one is started", secret=True),
    Setting("DATABASE_OWNER_URL", None, _postgres_url, "login that migrates, if not the same", secret=True),
    Setting("DATA_DIR", ".data", _folder, "folder of the embedded PostgreSQL"),
    Setting("ENVIRONMENT", "development", _environment, "development or production"),
    Setting("KEY_PEPPER", DEVELOPMENT_PEPPER, str, "secret mixed into the hash of API keys", secret=True),
    Setting("MAX_BODY_BYTES", "2000000", _positive, "largest request body accepted [bytes]"),
    Setting("MAX_IMPORT_BYTES", "50000000", _positive, "largest price file accepted [bytes]"),
    Setting("POOL_SIZE", "5", _positive, "database connections kept by one process"),
    Setting("STATEMENT_TIMEOUT_S", "30", _positive, "longest that one SQL statement may run [s]"),
    Setting("IDEMPOTENCY_HOURS", "24", _positive, "how long a stored answer can be replayed [h]"),
    Setting("RATE_LIMIT_REDIS_URL", None, _redis_url, "Redis where processes share rate limits", secret=True),
    Setting("BALLPARKS_PER_KEY", "600", _positive, "ballparks that one key may ask for in a minute"),
    Setting("BALLPARKS_PER_ADDRESS", "60", _positive, "ballparks that one address may ask for in a minute"),
    Setting("PROCESSES", "1", _positive, "processes that answer requests; `serve` fills it in"),
    Setting("WEBHOOK_TEST_NETWORK", None, _network, "for tests: lets webhooks in there, by http too"),
)


def load_settings(environ: Mapping[str, str]) -> Settings:
    """Read and check all settings; every wrong one is named in one SettingsError."""
    values: dict[str, Any] = {}
    faults: list[str] = []
    for setting in SETTINGS:
        try:
            values[setting.name.lower()] = _value(setting, environ)
        except ValueError as fault:
            faults.append(f"{setting.name} {fault}")
    if not faults:
        faults = _production_faults(values)
    if faults:
        raise SettingsError("; ".join(faults))
    return Settings(**values)


def _value(setting: Setting, environ: Mapping[str, str]) -> Any:
    text = environ.get(setting.name) or setting.default
    return None if text is None else setting.read(text)


def _production_faults(values: Mapping[str, Any]) -> list[str]:
    """What is fine on a laptop and refused in production."""
    if values["environment"] != "production":
        return []
    faults = []
    if values["database_url"] is None:
        faults.append("DATABASE_URL must be set in production: the embedded database is for laptops")
    if values["key_pepper"] == DEVELOPMENT_PEPPER or len(values["key_pepper"]) < SHORTEST_PEPPER:
        faults.append(f"KEY_PEPPER must be set in production, {SHORTEST_PEPPER} characters or more")
    if values["webhook_test_network"] is not None:
        faults.append("WEBHOOK_TEST_NETWORK must not be set in production")
    return faults


def describe(environ: Mapping[str, str]) -> tuple[SettingInForce, ...]:
    """Every setting with its value, default and source; secrets are masked."""
    return tuple(_in_force(setting, environ) for setting in SETTINGS)


def _in_force(setting: Setting, environ: Mapping[str, str]) -> SettingInForce:
    given = environ.get(setting.name)
    text = given or setting.default
    return SettingInForce(
        name=setting.name,
        value="not set" if text is None else "***" if setting.secret and given else text,
        default=setting.default or "not set",
        source="environment" if given else "default",
        meaning=setting.meaning,
    )
