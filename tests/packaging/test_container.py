"""Image and manifests agree with the service, and manifests with the cluster. ``make image-test`` runs the image."""

from __future__ import annotations

import importlib.util
import os
import re
import shlex
import shutil
import struct
import subprocess
import sys
from pathlib import Path
from typing import Any

import kubernetes_validate
import pytest
import yaml
from fastapi.testclient import TestClient
from glandwise.api.access import require_access
from glandwise.app import create_app
from glandwise.settings import Settings, SettingsError

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


LOCKS = [
    DOCKER / "service.lock",
    DOCKER / "statistics.lock",
    DOCKER / "tables.lock",
    DOCKER / "telemetry.lock",
    DOCKER / "build.lock",
    ROOT / "tests" / "client.lock",
]


@pytest.mark.parametrize("lock", LOCKS, ids=lambda path: path.name)
def test_every_line_of_a_lock_is_pinned_with_hashes_and_without_addresses(lock: Path) -> None:
    text = lock.read_text(encoding="utf-8")
    entries = text.replace("\\\n", " ").strip().splitlines()
    assert len(entries) >= {"tables": 1, "statistics": 2}.get(lock.stem, 5)
    for entry in entries:
        assert re.match(r"[a-z0-9-]+==[^\s;]+( ; .+?)? +--hash=sha256:[0-9a-f]{64}", entry), entry
    assert "//" not in text


def test_the_locks_hold_the_versions_that_are_tested() -> None:
    def pins(path: Path) -> dict[str, str]:
        return dict(re.findall(r"^([a-z0-9-]+)==([^\s;]+)", path.read_text(encoding="utf-8"), re.MULTILINE))

    tested = pins(ROOT / "tests" / "dev.lock")
    for lock in LOCKS:
        pinned = pins(lock)
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


def test_what_is_under_way_has_its_grace() -> None:
    """The engine waits longer than the service takes to end, with what comes before."""
    given = {item["name"]: item["value"] for item in container()["env"]}
    grace = int(given.get("GLANDWISE_GRACE_SECONDS", Settings.model_fields["grace_seconds"].default))
    pod = manifest("Deployment")["spec"]["template"]["spec"]
    before = int(container()["lifecycle"]["preStop"]["exec"]["command"][1])
    assert pod["terminationGracePeriodSeconds"] >= before + grace + 2
    compose = load(DOCKER / "compose.yaml")["services"]["service"]
    grace = int(compose["environment"].get("GLANDWISE_GRACE_SECONDS", Settings.model_fields["grace_seconds"].default))
    assert int(compose["stop_grace_period"].removesuffix("s")) >= grace + 2


def test_the_image_starts_only_with_a_statement_of_who_may_ask() -> None:
    with pytest.raises(SettingsError):
        require_access(Settings(host=environment()["GLANDWISE_HOST"]))
    compose = load(DOCKER / "compose.yaml")["services"]["service"]["environment"]
    pod = {item["name"]: item["value"] for item in container()["env"]}
    assert compose["GLANDWISE_BEHIND_GATEWAY"] == pod["GLANDWISE_BEHIND_GATEWAY"] == "true"


def test_only_the_gateway_and_the_collector_get_in_and_nothing_goes_out() -> None:
    policy = manifest("NetworkPolicy")["spec"]
    assert policy["podSelector"]["matchLabels"] == manifest("Deployment")["spec"]["selector"]["matchLabels"]
    assert sorted(policy["policyTypes"]) == ["Egress", "Ingress"]
    assert policy["egress"] == []
    (rule,) = policy["ingress"]
    assert all("namespaceSelector" in source for source in rule["from"])
    assert [port["port"] for port in rule["ports"]] == ["http"]


@pytest.mark.parametrize("path", sorted((DOCKER / "k8s").glob("[!k]*.yaml")), ids=lambda path: path.name)
def test_the_manifests_fit_the_schemas_of_the_cluster(path: Path) -> None:
    kubernetes_validate.validate(load(path), kubernetes_validate.latest_version(), strict=True)


def test_a_manifest_with_a_misspelt_field_would_not_fit() -> None:
    wrong = manifest("Deployment")
    wrong["spec"]["template"]["spec"]["containers"][0]["readinesProbe"] = {}
    with pytest.raises(kubernetes_validate.ValidationError):
        kubernetes_validate.validate(wrong, kubernetes_validate.latest_version(), strict=True)


QUANTITY = re.compile(r"(\d+(?:\.\d+)?)(m|Ki|Mi|Gi|k|M|G)?")
"""Of the forms that a cluster takes those that are used here."""
FACTORS = {None: 1.0, "m": 1e-3, "Ki": 2.0**10, "Mi": 2.0**20, "Gi": 2.0**30, "k": 1e3, "M": 1e6, "G": 1e9}


def amount(text: Any) -> float:
    """Return the number of a quantity of the cluster."""
    found = QUANTITY.fullmatch(str(text))
    assert found is not None, text
    return float(found[1]) * FACTORS[found[2]]


def test_quantities_are_quantities_and_hold_what_was_measured() -> None:
    resources = container()["resources"]
    requests, limits = resources["requests"], resources["limits"]
    assert 0.1 <= amount(requests["cpu"]) <= 4.0
    assert "cpu" not in limits
    page = (ROOT / "service" / "docs" / "deploy.md").read_text(encoding="utf-8")
    # requests, service, worker: the last of what was measured
    rows = re.findall(r"^\| [\d,]+ \| (\d+) \| (\d+) \|$", page, re.MULTILINE)
    measured = sum(map(float, rows[-1])) * 1e6
    assert measured == max(sum(map(float, row)) * 1e6 for row in rows)
    assert measured <= amount(requests["memory"]) < amount(limits["memory"])
    compose = load(DOCKER / "compose.yaml")["services"]["service"]["deploy"]["resources"]["limits"]
    assert amount(compose["memory"]) == pytest.approx(amount(limits["memory"]), rel=0.05)
    (volume,) = manifest("Deployment")["spec"]["template"]["spec"]["volumes"]
    assert 32 * 2**20 <= amount(volume["emptyDir"]["sizeLimit"]) < amount(requests["memory"])
    for probe in ("startupProbe", "readinessProbe", "livenessProbe"):
        assert container()[probe]["periodSeconds"] > 0


def test_layers_of_code_hold_no_dependencies_and_the_other_way_round() -> None:
    found = instructions()
    stages = [rest for name, rest in found if name == "FROM"]
    assert stages == ["${BASE} AS dependencies", "dependencies AS code", "${BASE}"]
    last = max(number for number, (name, _) in enumerate(found) if name == "FROM")
    copied = [rest for name, rest in found[last:] if name == "COPY"]
    assert copied == ["--from=dependencies /opt/glandwise /opt/glandwise", "--from=code /opt/code /opt/code"]
    first = next(
        number for number, (name, rest) in enumerate(found) if (name, rest) == ("FROM", "dependencies AS code")
    )
    assert all("service/" not in rest for name, rest in found[:first] if name == "COPY")


def slimmer() -> Any:
    spec = importlib.util.spec_from_file_location("slim", DOCKER / "slim.py")
    assert spec is not None
    assert spec.loader is not None
    slim = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(slim)
    return slim


def test_what_is_taken_out_of_the_image_is_named(tmp_path: Path) -> None:
    """The folders and files that go, and those that stay."""
    slim = slimmer()
    go = ["pip/__init__.py", "setuptools-1.dist-info/METADATA", "numpy/tests/test_a.py", "numpy/_core/include/a.h",
          "scipy/a/__pycache__/b.pyc", "numpy/a.pyi", "pyarrow/libarrow_flight.so.1", "scipy/signal/a.so",
          "PIL/_webp.so", "pillow.libs/libwebp-1.so.7", "matplotlib/mpl-data/fonts/ttf/STIXGeneral.ttf",
          "numpy/_core/_umath_tests.so", "scipy/ndimage/_ctest.so", "fastapi_offline/static/redoc.standalone.js",
          "zstandard/_cffi.so", "fontTools/ttLib/a.py", "pyarrow/libarrow_python.so", "pyarrow/libarrow_python.so.26.0.1"]  # fmt: skip
    stay = [
        "numpy/testing/__init__.py",
        "numpy/__init__.py",
        "numpy-2.dist-info/METADATA",
        "numpy/f2py/__init__.py",
        "PIL/_imaging.so",
        "pillow.libs/libjpeg-1.so.62",
        "matplotlib/mpl-data/fonts/ttf/DejaVuSans.ttf",
        "fastapi_offline/static/swagger-ui-bundle.js",
        "pyarrow/libarrow.so.1",
        "pyarrow/libarrow_python.so.26",
        "scipy/stats/a.so",
        "fontTools/agl.py",
        "a.so",
    ]
    for name in (*go, *stay):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"12345")
    assert slim.slim(tmp_path) == 5 * len(go)
    left = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()}
    assert left == set(stay)


def test_what_takes_fonts_apart_stays_where_sheets_are_written_as_pdf(tmp_path: Path) -> None:
    for name in ("weasyprint/__init__.py", "fontTools/ttLib/a.py"):
        (tmp_path / name).parent.mkdir(parents=True)
        (tmp_path / name).write_bytes(b"12345")
    assert slimmer().slim(tmp_path) == 0


def loaded(content: bytes) -> list[tuple[int, ...]]:
    """Return the program headers of a library, which are all that a process reads to load it."""
    (table,), (size, count) = struct.unpack_from("<Q", content, 32), struct.unpack_from("<HH", content, 54)
    return [struct.unpack_from("<IIQQQQQQ", content, table + number * size) for number in range(count)]


@pytest.mark.skipif(sys.platform != "linux", reason="libraries of another form")
@pytest.mark.parametrize("name", ["kiwisolver", "uvloop", "llvmlite"])
def test_a_library_without_names_for_debuggers_is_loaded_as_before(name: str, tmp_path: Path) -> None:
    (folder,) = map(Path, importlib.util.find_spec(name).submodule_search_locations)  # type: ignore[union-attr, arg-type]
    shutil.copytree(folder, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    assert slimmer().slim(tmp_path) > 1e6
    for before in folder.rglob("*.so"):
        after = tmp_path / name / before.relative_to(folder)
        whole, cut = before.read_bytes(), after.read_bytes()
        assert len(cut) <= len(whole)
        assert loaded(whole) == loaded(cut)
        for _, _, start, _, _, length, _, _ in loaded(whole):
            assert cut[max(start, 64) : start + length] == whole[max(start, 64) : start + length]
    call = {
        "kiwisolver": "kiwisolver.Solver().addConstraint(kiwisolver.Variable() >= 1)",
        "uvloop": "uvloop.new_event_loop().close()",
        "llvmlite": "import llvmlite.binding as b; b.initialize_native_target(); b.parse_assembly('')",
    }[name]
    script = f"import {name}, sys; {call}; print({name}.__file__)"
    done = subprocess.run(
        [sys.executable, "-c", script],
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.strip() == str(tmp_path / name / "__init__.py"), done.stderr


@pytest.mark.parametrize("content", [b"", b"\x7fELF\x01\x01 of 32 bits", b"plain text", b"\x7fELF\x02\x02" + bytes(80)])
def test_what_is_no_such_library_is_left_whole(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "a.so").write_bytes(content)
    assert slimmer().slim(tmp_path) == 0
    assert (tmp_path / "a.so").read_bytes() == content


def test_no_source_calls_what_is_taken_out() -> None:
    parts = [name.replace("/", ".") for name in slimmer().UNUSED if name.startswith("scipy/") and "*" not in name]
    assert len(parts) > 3
    sources = [path.read_text(encoding="utf-8") for path in (ROOT / "service" / "src").rglob("*.py")]
    for part in parts:
        package, _, name = part.rpartition(".")
        used = re.compile(rf"\b{re.escape(part)}\b|from {package} import [^\n]*\b{name}\b")
        assert not any(used.search(source) for source in sources), part


def test_the_page_names_every_setting() -> None:
    page = (ROOT / "service" / "docs" / "deploy.md").read_text(encoding="utf-8")
    named = re.findall(r"^\| `GLANDWISE_([A-Z_]+)` \| `?([^`|]+?)`? \|", page, re.MULTILINE)
    assert {name.lower() for name, _ in named} == set(Settings.model_fields)
    for name, default in named:
        value = Settings.model_fields[name.lower()].default
        shown = str(value).lower() if isinstance(value, bool) else str(value)
        assert default == ("none" if value is None else shown)
