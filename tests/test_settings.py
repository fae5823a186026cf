from __future__ import annotations

import pytest

from service.settings import SETTINGS, SettingsError, describe, load_settings

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
