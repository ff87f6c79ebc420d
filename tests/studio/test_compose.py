"""The deployment file: valid by the compose specification, whole, and without a secret in it."""

import re
from pathlib import Path
from typing import Any

import compose_spec
import pytest
import yaml
from gunicorn.config import Config as GunicornConfig

from studio.management.commands.serve import children_commands

HERE = Path(__file__).resolve().parent.parent.parent
TEXT = (HERE / "docker-compose.yml").read_text()
COMPOSE = yaml.safe_load(TEXT)
SERVICES: dict[str, dict[str, Any]] = COMPOSE["services"]
EXAMPLE = dict(
    line.split("=", 1) for line in (HERE / ".env.example").read_text().splitlines() if line and not line.startswith("#")
)


def read(text: str) -> compose_spec.PyCompose:
    """The file as the compose-spec library reads it, which refuses whatever the specification does."""
    compose = compose_spec.PyOptions(apply_merge=True).from_yaml(text)
    compose.validate()
    return compose


def test_the_file_is_valid_by_the_compose_specification():
    """Source: github.com/compose-spec/compose-spec, as the compose-spec library implements it."""
    assert set(read(TEXT).service_names()) == {"postgres", "redis", "migrate", "web", "worker", "beat", "proxy"}


@pytest.mark.parametrize(
    ("right", "wrong", "named"),
    [
        ("healthcheck:", "helthcheck:", "helthcheck"),
        ("interval: 5s", "interval: soon", "soon"),
        ("condition: service_healthy", "condition: up", "up"),
    ],
)
def test_a_slip_in_the_file_would_be_noticed(right, wrong, named):
    assert right in TEXT
    with pytest.raises(ValueError, match=f"`{named}`"):
        read(TEXT.replace(right, wrong, 1))


def test_everything_a_service_waits_for_exists_and_can_tell_its_health():
    for name, service in SERVICES.items():
        for other, how in service.get("depends_on", {}).items():
            assert other in SERVICES, f"{name} waits for {other}"
            if how["condition"] == "service_healthy":
                assert "healthcheck" in SERVICES[other], f"{other} cannot tell its health to {name}"


def test_every_service_that_stays_up_restarts_and_tells_its_health():
    staying = {name: service for name, service in SERVICES.items() if name != "migrate"}
    assert {name for name, service in staying.items() if service["restart"] != "unless-stopped"} == set()
    assert {name for name, service in staying.items() if "healthcheck" not in service} == set()


def test_every_volume_is_declared_or_a_file_of_ours():
    for service in SERVICES.values():
        for volume in service.get("volumes", []):
            source = volume.split(":")[0]
            assert source in COMPOSE["volumes"] or (HERE / source).is_file(), volume


def test_only_the_proxy_that_ends_tls_can_be_reached_from_outside():
    assert [name for name, service in SERVICES.items() if "ports" in service] == ["proxy"]
    assert "443:443" in SERVICES["proxy"]["ports"]


def test_no_secret_has_a_default_and_a_missing_one_stops_the_start():
    may_be_empty = {"SECRET_KEY_FALLBACKS", "HEALTH_KEY_BEFORE", "STUDIO_TLS"}
    used = re.findall(r"\$\{(\w+)(:[?-])?([^}]*)\}", TEXT)
    assert {name for name, how, _ in used if how != ":?"} == may_be_empty
    assert {default for name, _, default in used if name in may_be_empty} == {""}


def test_the_example_names_every_variable_and_gives_none_away():
    assert set(EXAMPLE) == set(re.findall(r"\$\{(\w+)", TEXT))
    assert set(EXAMPLE.values()) == {""}


def test_no_web_server_opens_a_socket_in_a_home_folder():
    """gunicorn 26 opens a control socket under the home folder unless `--no-control-socket` says otherwise.

    Source: gunicorn's own settings, `control_socket_disable` in gunicorn/config.py.
    """
    image = re.findall(r'"([^"]*)"', (HERE / "Dockerfile").read_text().partition("CMD ")[2])
    for command in (SERVICES["web"]["command"], image, children_commands(8000)["web"]):
        given = command[command.index("gunicorn") + 1 :]
        assert GunicornConfig().parser().parse_args(given).control_socket_disable is True


def test_the_image_keeps_secrets_and_the_house_keys_out():
    assert {".env", "var", ".git"} <= set((HERE / ".dockerignore").read_text().split())
