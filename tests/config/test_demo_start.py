"""The demonstration: always SQLite in a folder of its own."""

from __future__ import annotations

from tests.running import Installation, Visitor


def test_the_demonstration_has_its_own_database_and_new_passwords_each_time(bare_installation: Installation):
    told = []
    for _ in range(2):
        bare_installation.start("--demo")
        lines = [line for line in bare_installation.log().splitlines() if line.startswith("Sign in as ")]
        told.append({line.split()[3]: line.split()[-1] for line in lines})
        for name, password in told[-1].items():
            assert "Change your password" in Visitor(bare_installation.base).sign_in(name, password)
        bare_installation.stop()
    assert set(told[0]) == {"manager", "hand", "viewer", "operator"}
    assert not set(told[0].values()) & set(told[1].values())
    assert (bare_installation.data / "demo" / "sweetground.sqlite3").exists()
    assert not (bare_installation.data / "sweetground.sqlite3").exists()
