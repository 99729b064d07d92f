"""Image and manifests agree with the service. They are not built here: that needs a container engine."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import pytest
import yaml
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
DOCKER = ROOT / "docker"
MANIFESTS = sorted([DOCKER / "compose.yaml", *(DOCKER / "k8s").glob("*.yaml")])


def instructions() -> list[tuple[str, str]]:
    """Split the Dockerfile into instructions and their arguments."""
    text = (DOCKER / "Dockerfile").read_text(encoding="utf-8")
    text = re.sub(r"^\s*#.*\n", "", text, flags=re.MULTILINE).replace("\\\n", " ")
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return [(line.split(maxsplit=1)[0], line.split(maxsplit=1)[1]) for line in lines]


def environment() -> dict[str, str]:
    """Return the variables the image sets for the service (in its last stage)."""
    found = instructions()
    last = max(number for number, (name, _) in enumerate(found) if name == "FROM")
    pairs = [shlex.split(rest) for name, rest in found[last:] if name == "ENV"]
    return dict(pair.split("=", 1) for group in pairs for pair in group)


def load(path: Path) -> Any:
    return yaml.safe_load(path.read_text(encoding="utf-8"))


def manifest(kind: str) -> Any:
    (found,) = [m for m in map(load, (DOCKER / "k8s").glob("*.yaml")) if m["kind"] == kind]
    return found


def container() -> Any:
    (only,) = manifest("Deployment")["spec"]["template"]["spec"]["containers"]
    return only


def test_what_the_image_copies_exists_and_passes_the_ignore_file() -> None:
    let_through = {
        line[1:] for line in (ROOT / ".dockerignore").read_text(encoding="utf-8").splitlines() if line.startswith("!")
    }
    sources = [
        source.rstrip("/")
        for name, rest in instructions()
        if name == "COPY" and not rest.startswith("--from=")
        for source in rest.split()[:-1]
    ]
    assert sources
    for source in sources:
        assert (ROOT / source).exists(), source
    assert set(sources) == let_through


@pytest.mark.parametrize("lock", ["service.lock", "build.lock"])
def test_every_line_of_a_lock_is_pinned_with_hashes_and_without_addresses(lock: str) -> None:
    text = (DOCKER / lock).read_text(encoding="utf-8")
    entries = text.replace("\\\n", " ").strip().splitlines()
    assert len(entries) >= 5
    for entry in entries:
        assert re.match(r"[a-z0-9-]+==[^\s;]+( ; .+?)? +--hash=sha256:[0-9a-f]{64}", entry), entry
    assert "//" not in text


def test_the_locks_hold_the_versions_that_are_tested() -> None:
    def pins(path: Path) -> dict[str, str]:
        return dict(re.findall(r"^([a-z0-9-]+)==([^\s;]+)", path.read_text(encoding="utf-8"), re.MULTILINE))

    tested = pins(ROOT / "tests" / "dev.lock")
    for lock in ("service.lock", "build.lock"):
        pinned = pins(DOCKER / lock)
        assert pinned
        assert pinned.items() <= tested.items()


def test_the_image_runs_as_a_user_without_rights_and_starts_the_service() -> None:
    found = dict(instructions())  # the last of each kind
    user = found["USER"]
    assert user == "10001:10001"
    assert found["CMD"] == '["python", "-m", "glandwise"]'
    assert "curl" not in found["HEALTHCHECK"]
    settings = {name.removeprefix("GLANDWISE_").lower() for name in environment() if name.startswith("GLANDWISE_")}
    assert settings - {"cache"} <= set(Settings.model_fields)
    pod = manifest("Deployment")["spec"]["template"]["spec"]
    assert f"{pod['securityContext']['runAsUser']}:{pod['securityContext']['runAsGroup']}" == user


def test_the_health_check_of_the_image_calls_what_the_service_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    script = re.search(r'CMD \["python", "-c", "(.*)"\]', dict(instructions())["HEALTHCHECK"])
    assert script is not None
    called: list[str] = []
    monkeypatch.setenv("GLANDWISE_PORT", environment()["GLANDWISE_PORT"])
    monkeypatch.setattr("urllib.request.urlopen", lambda url, **_: called.append(url))
    exec(script[1])
    (url,) = called
    host, path = url.removeprefix("http://").split("/", 1)
    assert host == f"127.0.0.1:{environment()['GLANDWISE_PORT']}"
    with TestClient(create_app()) as client:
        assert client.get(f"/{path}").status_code == 200


@pytest.mark.parametrize("path", MANIFESTS, ids=lambda path: path.name)
def test_the_yaml_can_be_read_and_names_no_host_of_images(path: Path) -> None:
    content = load(path)
    assert isinstance(content, dict)
    for image in re.findall(r"image: (\S+)", path.read_text(encoding="utf-8")):
        assert "/" not in image


def test_probes_ports_and_variables_are_the_services_own() -> None:
    one = container()
    ports = {port["name"]: port["containerPort"] for port in one["ports"]}
    assert str(ports["http"]) == environment()["GLANDWISE_PORT"]
    with TestClient(create_app()) as client:
        for probe in ("startupProbe", "readinessProbe", "livenessProbe"):
            call = one[probe]["httpGet"]
            assert call["port"] in ports
            assert client.get(call["path"]).status_code == 200
    assert one["readinessProbe"]["httpGet"]["path"] == "/readyz"
    assert one["livenessProbe"]["httpGet"]["path"] == "/healthz"
    (port,) = manifest("Service")["spec"]["ports"]
    assert port["targetPort"] in ports
    compose = load(DOCKER / "compose.yaml")["services"]["service"]
    assert compose["ports"] == [f"127.0.0.1:{environment()['GLANDWISE_PORT']}:{ports['http']}"]
    names = [*compose["environment"], *(item["name"] for item in one["env"])]
    assert {name.removeprefix("GLANDWISE_").lower() for name in names} <= set(Settings.model_fields)


def test_nothing_may_be_written_but_the_temporary_folder() -> None:
    one, compose = container(), load(DOCKER / "compose.yaml")["services"]["service"]
    assert one["securityContext"]["readOnlyRootFilesystem"] is True
    assert one["securityContext"]["allowPrivilegeEscalation"] is False
    assert one["securityContext"]["capabilities"] == {"drop": ["ALL"]}
    assert [mount["mountPath"] for mount in one["volumeMounts"]] == ["/tmp"]
    assert compose["read_only"] is True
    assert compose["tmpfs"][0].startswith("/tmp:")
    assert environment()["MPLCONFIGDIR"].startswith("/tmp/")


def test_the_manifests_select_the_same_pods() -> None:
    deployment = manifest("Deployment")
    labels = deployment["spec"]["template"]["metadata"]["labels"]
    assert deployment["spec"]["selector"]["matchLabels"] == labels
    assert manifest("Service")["spec"]["selector"] == labels
    assert manifest("PodDisruptionBudget")["spec"]["selector"]["matchLabels"] == labels
    scaler = manifest("HorizontalPodAutoscaler")["spec"]
    assert scaler["scaleTargetRef"]["name"] == deployment["metadata"]["name"]
    assert "replicas" not in deployment["spec"]
    assert scaler["minReplicas"] >= 2
    assert "cpu" in container()["resources"]["requests"]  # what the share of the autoscaler is of
    assert sorted(manifest("Kustomization")["resources"]) == [
        path.name for path in MANIFESTS if path.parent.name == "k8s" and path.name != "kustomization.yaml"
    ]


def test_the_page_names_every_setting() -> None:
    page = (ROOT / "service" / "docs" / "deploy.md").read_text(encoding="utf-8")
    named = re.findall(r"^\| `GLANDWISE_([A-Z_]+)` \| `?([^`|]+?)`? \|", page, re.MULTILINE)
    assert {name.lower() for name, _ in named} == set(Settings.model_fields)
    for name, default in named:
        value = Settings.model_fields[name.lower()].default
        shown = str(value).lower() if isinstance(value, bool) else str(value)
        assert default == ("none" if value is None else shown)
