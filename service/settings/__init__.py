"""The service's settings: read once from the environment, checked, frozen.

Each setting is one row of `SETTINGS`; the listing shows name, default, value and source, secrets masked. A
secret NAME may come in a file instead, named by NAME_FILE, as container engines hand secrets over.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from service.settings import readers
from service.settings.readers import Address, Network

Environment = Literal["development", "production"]
Source = Literal["environment", "file", "default"]

DEVELOPMENT_PEPPER = "for development only, never for real keys"
SHORTEST_PEPPER = 32
PRIVATE_NETWORKS = "127.0.0.0/8,10.0.0.0/8,172.16.0.0/12,192.168.0.0/16,::1/128,fc00::/7"
"""RFC 1918, RFC 4193 and the machine itself."""


class SettingsError(ValueError):
    """One or more settings are wrong; the message names each of them."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What the environment decides. Sizes are bytes, times seconds unless the name says otherwise."""

    database_url: str | None
    database_owner_url: str | None
    data_dir: Path
    environment: Environment
    key_pepper: str
    max_body_bytes: int
    max_import_bytes: int
    pool_size: int
    pool_timeout_s: int
    statement_timeout_s: int
    slow_statement_ms: int
    idempotency_hours: int
    rate_limit_redis_url: str | None
    requests_per_key: int
    ballparks_per_key: int
    ballparks_per_address: int
    trusted_proxies: int
    proxy_networks: tuple[Network, ...]
    processes: int
    threads: int
    max_waiting: int
    max_requests: int
    graceful_timeout_s: int
    log_level: str
    metrics_address: Address | None
    otel_exporter_otlp_endpoint: str | None
    webhook_test_network: Network | None

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
    source: Source
    meaning: str


_POSITIVE, _NOT_NEGATIVE = readers.positive, readers.not_negative
SETTINGS: tuple[Setting, ...] = (
    Setting("DATABASE_URL", None, readers.postgres_url, "PostgreSQL; without it one is started", secret=True),
    Setting(
        "DATABASE_OWNER_URL", None, readers.postgres_url, "login that migrates, if not the same", secret=True
    ),
    Setting("DATA_DIR", ".data", readers.folder, "folder of the embedded PostgreSQL"),
    Setting(
        "ENVIRONMENT",
        "development",
        readers.one_of("development", "production"),
        "development or production",
    ),
    Setting("KEY_PEPPER", DEVELOPMENT_PEPPER, str, "secret mixed into the hash of API keys", secret=True),
    Setting("MAX_BODY_BYTES", "2000000", _POSITIVE, "largest request body accepted [bytes]"),
    Setting("MAX_IMPORT_BYTES", "50000000", _POSITIVE, "largest price file accepted [bytes]"),
    Setting("POOL_SIZE", "5", _POSITIVE, "database connections kept by one process"),
    Setting("POOL_TIMEOUT_S", "5", _POSITIVE, "how long a request waits for a database connection [s]"),
    Setting("STATEMENT_TIMEOUT_S", "30", _POSITIVE, "longest that one SQL statement may run [s]"),
    Setting("SLOW_STATEMENT_MS", "500", _POSITIVE, "SQL statements that take longer are logged [ms]"),
    Setting("IDEMPOTENCY_HOURS", "24", _POSITIVE, "how long a stored answer can be replayed [h]"),
    Setting(
        "RATE_LIMIT_REDIS_URL",
        None,
        readers.redis_url,
        "Redis where processes share rate limits",
        secret=True,
    ),
    Setting("REQUESTS_PER_KEY", "12000", _POSITIVE, "requests that one API key may send in a minute"),
    Setting("BALLPARKS_PER_KEY", "600", _POSITIVE, "ballparks that one key may ask for in a minute"),
    Setting("BALLPARKS_PER_ADDRESS", "60", _POSITIVE, "ballparks that one address may ask for in a minute"),
    Setting("TRUSTED_PROXIES", "0", _NOT_NEGATIVE, "proxies in front that add to X-Forwarded-For"),
    Setting("PROXY_NETWORKS", PRIVATE_NETWORKS, readers.networks, "where those proxies call from"),
    Setting("PROCESSES", "1", _POSITIVE, "processes that answer requests; `serve` fills it in"),
    Setting("THREADS", "4", _POSITIVE, "requests that one such process works on at once"),
    Setting("MAX_WAITING", "32", _POSITIVE, "requests that wait for that; more are refused at once"),
    Setting("MAX_REQUESTS", "10000", _NOT_NEGATIVE, "requests after which a process is renewed; 0: never"),
    Setting("GRACEFUL_TIMEOUT_S", "20", _POSITIVE, "how long what is begun may take when stopping [s]"),
    Setting("LOG_LEVEL", "info", readers.one_of("debug", "info", "warning", "error"), "least that is logged"),
    Setting("METRICS_ADDRESS", None, readers.address, "host:port where a queue worker shows its metrics"),
    Setting("OTEL_EXPORTER_OTLP_ENDPOINT", None, readers.http_url, "collector of traces; without it: none"),
    Setting("WEBHOOK_TEST_NETWORK", None, readers.network, "for tests: lets webhooks in there, by http too"),
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
    faults += _production_faults(values)
    if faults:
        raise SettingsError("; ".join(faults))
    return Settings(**values)


def _value(setting: Setting, environ: Mapping[str, str]) -> Any:
    given, _ = _given(setting, environ)
    text = given or setting.default
    return None if text is None else setting.read(text)


def _given(setting: Setting, environ: Mapping[str, str]) -> tuple[str | None, Source]:
    """What was said and where; of a secret perhaps in a file. ValueError where that cannot be read."""
    text = environ.get(setting.name) or None
    file = environ.get(f"{setting.name}_FILE") if setting.secret else None
    if not file:
        return text, "environment" if text else "default"
    if text:
        raise ValueError(f"is given twice, as {setting.name}_FILE too")
    try:
        return Path(file).read_text("utf-8").strip(), "file"
    except (OSError, UnicodeDecodeError):
        raise ValueError(f"cannot be read from {setting.name}_FILE") from None


def _production_faults(values: Mapping[str, Any]) -> list[str]:
    """What is fine on a laptop and refused in production, among the values that could be read."""
    if values.get("environment") != "production":
        return []
    faults = []
    if values.get("database_url", "") is None:
        faults.append("DATABASE_URL must be set in production: the embedded database is for laptops")
    pepper = values.get("key_pepper")
    if pepper is not None and (pepper == DEVELOPMENT_PEPPER or len(pepper) < SHORTEST_PEPPER):
        faults.append(f"KEY_PEPPER must be set in production, {SHORTEST_PEPPER} characters or more")
    if values.get("webhook_test_network") is not None:
        faults.append("WEBHOOK_TEST_NETWORK must not be set in production")
    return faults


def describe(environ: Mapping[str, str]) -> tuple[SettingInForce, ...]:
    """Every setting with its value, default and source; secrets are masked."""
    return tuple(_in_force(setting, environ) for setting in SETTINGS)


def _in_force(setting: Setting, environ: Mapping[str, str]) -> SettingInForce:
    source: Source
    try:
        given, source = _given(setting, environ)
    except ValueError as fault:
        given, source = str(fault), "file"
    text = given or setting.default
    return SettingInForce(
        name=setting.name,
        value="not set" if text is None else "***" if setting.secret and given else text,
        default=setting.default or "not set",
        source=source if given else "default",
        meaning=setting.meaning,
    )


def misspelt(environ: Mapping[str, str]) -> dict[str, str]:
    """Names in the environment that are no settings but look like one, with the one that they look like."""
    from difflib import get_close_matches

    known = {name for setting in SETTINGS for name in (setting.name, f"{setting.name}_FILE")}
    names = [setting.name for setting in SETTINGS]
    strange = (name for name in environ if name not in known and not name.startswith("OTEL_"))
    looks = ((name, get_close_matches(name.upper(), names, n=1, cutoff=0.87)) for name in strange)
    return {name: like[0] for name, like in looks if like}
