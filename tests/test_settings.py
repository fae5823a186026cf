from __future__ import annotations

from pathlib import Path

import pytest

from service.settings import SETTINGS, SettingsError, describe, load_settings, misspelt

PRODUCTION = {
    "ENVIRONMENT": "production",
    "DATABASE_URL": "postgresql://office:secret@db/office",
    "KEY_PEPPER": "p" * 32,
}


def test_an_empty_environment_is_a_laptop() -> None:
    settings = load_settings({})
    assert settings.embedded
    assert settings.environment == "development"
    assert settings.max_body_bytes == 2_000_000
    assert settings.data_dir.name == ".data"


def test_production_takes_what_it_is_given() -> None:
    settings = load_settings({**PRODUCTION, "POOL_SIZE": "9"})
    assert (settings.embedded, settings.pool_size, settings.environment) == (False, 9, "production")


@pytest.mark.parametrize("missing", ["DATABASE_URL", "KEY_PEPPER"])
def test_production_refuses_what_is_for_laptops(missing: str) -> None:
    with pytest.raises(SettingsError, match=f"^{missing} must be set"):
        load_settings({name: value for name, value in PRODUCTION.items() if name != missing})


def test_production_refuses_a_short_pepper() -> None:
    with pytest.raises(SettingsError, match="KEY_PEPPER"):
        load_settings({**PRODUCTION, "KEY_PEPPER": "short"})


def test_production_lets_webhooks_into_no_test_network() -> None:
    given = {"WEBHOOK_TEST_NETWORK": "127.0.0.1/32"}
    assert str(load_settings(given).webhook_test_network) == "127.0.0.1/32"
    with pytest.raises(SettingsError, match=r"^WEBHOOK_TEST_NETWORK must not be set"):
        load_settings({**PRODUCTION, **given})


def test_every_wrong_setting_is_named() -> None:
    wrong = {
        "DATABASE_URL": "mysql://x",
        "MAX_BODY_BYTES": "-5",
        "POOL_SIZE": "many",
        "ENVIRONMENT": "staging",
        "WEBHOOK_TEST_NETWORK": "localhost",
    }
    with pytest.raises(SettingsError) as caught:
        load_settings(wrong)
    assert all(name in str(caught.value) for name in wrong)


def test_the_listing_masks_secrets_and_tells_where_a_value_is_from() -> None:
    rows = {row.name: row for row in describe(PRODUCTION)}
    assert set(rows) == {setting.name for setting in SETTINGS}
    assert (rows["KEY_PEPPER"].value, rows["KEY_PEPPER"].source) == ("***", "environment")
    assert (rows["POOL_SIZE"].value, rows["POOL_SIZE"].source) == ("5", "default")
    assert "secret" not in str([row.value for row in rows.values()])


def test_wrong_values_and_what_production_refuses_are_told_at_once() -> None:
    with pytest.raises(SettingsError) as caught:
        load_settings({"ENVIRONMENT": "production", "POOL_SIZE": "many", "THREADS": "0"})
    told = [fault.split()[0] for fault in str(caught.value).split("; ")]
    assert told == ["POOL_SIZE", "THREADS", "DATABASE_URL", "KEY_PEPPER"]


@pytest.mark.parametrize(
    ("name", "good", "bad"),
    [
        ("TRUSTED_PROXIES", "0", "-1"),
        ("PROXY_NETWORKS", "10.0.0.0/8, fc00::/7", "10.0.0.1/8"),
        ("METRICS_ADDRESS", "[::1]:9100", "9100"),
        ("LOG_LEVEL", "warning", "loud"),
        ("OTEL_EXPORTER_OTLP_ENDPOINT", "http://collector:4318", "collector:4318"),
        ("POOL_SIZE", "10", "\u0661\u0660"),
    ],
)
def test_each_kind_of_setting_is_checked(name: str, good: str, bad: str) -> None:
    load_settings({name: good})
    with pytest.raises(SettingsError, match=f"^{name} must be"):
        load_settings({name: bad})


def test_a_secret_may_come_in_a_file(tmp_path: Path) -> None:
    secret = tmp_path / "pepper"
    secret.write_text("p" * 32 + "\n")
    given = {"KEY_PEPPER_FILE": str(secret)}
    assert load_settings(given).key_pepper == "p" * 32
    listed = next(row for row in describe(given) if row.name == "KEY_PEPPER")
    assert (listed.value, listed.source) == ("***", "file")
    with pytest.raises(SettingsError, match=r"^KEY_PEPPER is given twice"):
        load_settings({**given, "KEY_PEPPER": "q" * 32})
    with pytest.raises(SettingsError, match=r"^DATABASE_URL cannot be read from DATABASE_URL_FILE"):
        load_settings({"DATABASE_URL_FILE": str(tmp_path / "none")})


def test_a_file_is_for_secrets_only(tmp_path: Path) -> None:
    (tmp_path / "size").write_text("9")
    assert load_settings({"POOL_SIZE_FILE": str(tmp_path / "size")}).pool_size == 5


def test_names_that_look_like_a_setting_are_told() -> None:
    given = {"POOLSIZE": "9", "KEY_PEPER": "p", "HOME": "/", "PATH": "/bin", "POOL_SIZE": "1"}
    assert misspelt(given) == {"POOLSIZE": "POOL_SIZE", "KEY_PEPER": "KEY_PEPPER"}
