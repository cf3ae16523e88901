"""docker-compose.yml: valid, without secrets, healthy by its own checks, in step with the rest."""

import re
import subprocess
import sys

import pytest

from .compose import (
    COMPOSE_FILE,
    PROGRAM,
    ROOT,
    MissingVariableError,
    filled_in,
    variables,
)

REQUIRED = {
    "DJANGO_SECRET_KEY": "key-of-this-test",
    "POSTGRES_PASSWORD": "password-of-this-test",
    "ALLOWED_HOSTS": "office.example.org",
}
SECRET = re.compile(r"SECRET|PASSWORD|TOKEN|KEY")


def variables_of_the_settings() -> set[str]:
    """Every environment variable that agency/config/settings.py reads."""
    source = (ROOT / "agency/config/settings.py").read_text()
    return set(re.findall(r"env_(?:text|choice|number)\(\s*\"(\w+)\"", source))


def test_file_follows_the_compose_specification():
    """The JSON schema of the Compose Specification, as check-jsonschema ships it."""
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "check_jsonschema",
            "--builtin-schema=vendor.compose-spec",
            str(COMPOSE_FILE),
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("missing", REQUIRED)
def test_nothing_starts_without_each_required_variable(missing):
    """Three values have no default, and Compose stops when one is missing or empty."""
    with pytest.raises(MissingVariableError, match=missing):
        filled_in({**REQUIRED, missing: ""})


def test_required_variables_are_just_these():
    assert {name for name, default in variables().items() if default is None} == set(REQUIRED)


def test_no_secret_stands_in_the_file():
    """Secrets of two runs with different .env files differ everywhere they are used."""
    one = filled_in(REQUIRED)
    other = filled_in({name: value + "-2" for name, value in REQUIRED.items()})
    compared = 0
    for name, service in one.items():
        for variable, value in service.get("environment", {}).items():
            if SECRET.search(variable) or variable == "DATABASE_URL":
                assert value != other[name]["environment"][variable], (name, variable)
                compared += 1
    assert compared == 2 * len(PROGRAM) + 1


def test_every_variable_stands_in_the_example_with_its_default():
    example = dict(
        line.split("=", 1)
        for line in (ROOT / ".env.example").read_text().splitlines()
        if line and not line.startswith("#")
    )
    assert example == {name: default or "" for name, default in variables().items()}


def test_every_setting_is_explained_in_the_example():
    example = (ROOT / ".env.example").read_text()
    unexplained = {
        name
        for name in variables_of_the_settings()
        if not re.search(rf"^(# )?{name}=", example, re.MULTILINE)
    }
    assert unexplained == set()


@pytest.mark.parametrize("service", PROGRAM)
def test_program_gets_only_variables_that_the_settings_read(service):
    environment = filled_in(REQUIRED)[service]["environment"]
    assert set(environment) <= variables_of_the_settings()
    assert environment["HEARTHLEDGER_MODE"] == "production"


def test_every_lasting_service_has_a_health_check_and_comes_back():
    for name, service in filled_in(REQUIRED).items():
        if name == "migrate":
            assert service["restart"] == "no"
        else:
            assert service["healthcheck"]["test"][0] in {"CMD", "CMD-SHELL"}, name
            assert service["restart"] == "unless-stopped", name


def test_nothing_waits_for_a_service_without_a_health_check():
    services = filled_in(REQUIRED)
    for service in services.values():
        for needed, wish in service.get("depends_on", {}).items():
            if wish["condition"] == "service_healthy":
                assert "healthcheck" in services[needed]
            else:
                assert needed == "migrate"


@pytest.mark.parametrize("service", PROGRAM)
def test_program_runs_without_rights(service):
    """No root, no capability, nothing to write on but /tmp and the photos."""
    settings = filled_in(REQUIRED)[service]
    assert settings["read_only"] is True
    assert settings["cap_drop"] == ["ALL"]
    assert settings["volumes"] == ["media:/srv/hearthledger/.data/media"]


def test_only_this_machine_reaches_the_published_port():
    published = {
        name: service["ports"]
        for name, service in filled_in(REQUIRED).items()
        if "ports" in service
    }
    assert published == {"web": ["127.0.0.1:8000:8000"]}


def test_image_is_built_once_and_drops_root():
    services = filled_in(REQUIRED)
    assert [name for name, service in services.items() if "build" in service] == ["migrate"]
    dockerfile = services["migrate"]["build"]["dockerfile_inline"]
    assert re.findall(r"^USER (\w+)$", dockerfile, re.MULTILINE) == ["hearthledger"]
    assert "--require-hashes" in dockerfile


def test_image_has_the_libraries_that_the_install_script_installs():
    install = (ROOT / ".ci/install").read_text()
    wanted = re.search(r"for package in ([^;]+); do", install)
    assert wanted is not None
    packages = set(wanted[1].replace("\\", "").split()) - {"ca-certificates"}
    dockerfile = filled_in(REQUIRED)["migrate"]["build"]["dockerfile_inline"]
    assert packages <= set(dockerfile.split())
