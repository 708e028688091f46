"""The production set-up, as far as it can be checked without a container engine."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).parents[2]
SETTINGS = (ROOT / "shopdiag" / "settings.py").read_text()
PRODUCTION = {
    "SECRET_KEY": "n0t-a-real-one-but-long-enough-to-pass-0123456789-abcdefghijk",
    "HTTPS": "1",
    "ALLOWED_HOSTS": "shop.example",
    "CSRF_TRUSTED_ORIGINS": "https://shop.example",
    "COLLECTED_STATIC": "1",
}


def production(data_dir, **more):
    """The environment of a deployment: nothing of the test run's own."""
    left_out = {"DATABASE_URL", "BROKER_URL", "DJANGO_ALLOW_ASYNC_UNSAFE"}
    kept = {k: v for k, v in os.environ.items() if k not in left_out}
    own = {"DATA_DIR": str(data_dir), "DJANGO_SETTINGS_MODULE": "shopdiag.settings"}
    return {**kept, **PRODUCTION, **own, **more}


@pytest.fixture(scope="module")
def compose():
    return yaml.safe_load((ROOT / "docker-compose.yml").read_text())


def test_compose_has_every_part_with_health_checks(compose):
    assert set(compose["services"]) == {"setup", "web", "worker", "sweep", "db", "queue"}
    for name in ("web", "worker", "db", "queue"):
        assert compose["services"][name]["healthcheck"]["test"], name
    assert set(compose["volumes"]) == {"files", "database", "queue"}


def test_every_variable_of_compose_is_one_the_settings_read(compose):
    read = set(re.findall(r"env\.\w+\(\s*\"([A-Z_]+)\"", SETTINGS))
    for name in ("setup", "web", "worker", "sweep"):
        given = set(compose["services"][name]["environment"])
        assert given <= read, given - read
        assert {"SECRET_KEY", "DATABASE_URL", "BROKER_URL", "ALLOWED_HOSTS"} <= given


def test_no_secret_is_written_down():
    text = (ROOT / "docker-compose.yml").read_text()
    for secret in ("SECRET_KEY", "POSTGRES_PASSWORD", "REDIS_PASSWORD"):
        assert f"${{{secret}:?" in text
        assert re.search(rf"^{secret}=$", (ROOT / ".env.example").read_text(), re.MULTILINE)


def test_variables_of_the_example_file_are_those_compose_asks_for():
    asked = set(re.findall(r"\$\{([A-Z_]+)", (ROOT / "docker-compose.yml").read_text()))
    named = set(re.findall(r"^([A-Z_]+)=", (ROOT / ".env.example").read_text(), re.MULTILINE))
    assert asked == named


def test_the_image_runs_without_rights():
    lines = (ROOT / "Dockerfile").read_text().splitlines()
    users = [line.split()[1] for line in lines if line.startswith("USER ")]
    assert users == ["shop"]
    last_copy = max(i for i, line in enumerate(lines) if line.startswith("COPY "))
    assert next(i for i, line in enumerate(lines) if line.startswith("CMD ")) > last_copy


def test_the_image_gets_no_local_data():
    ignored = (ROOT / ".dockerignore").read_text().split()
    assert {".git", ".venv", "var", ".env"} <= set(ignored)


def test_settings_pass_the_deployment_check(tmp_path):
    env = production(tmp_path)
    done = subprocess.run(
        [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"],
        cwd=ROOT,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout + done.stderr


def test_static_files_can_be_collected_and_fingerprinted(tmp_path):
    env = production(tmp_path, STATIC_ROOT=str(tmp_path / "static"))
    done = subprocess.run(
        [sys.executable, "manage.py", "collectstatic", "--no-input", "--verbosity", "0"],
        cwd=ROOT,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "static" / "staticfiles.json").exists()
