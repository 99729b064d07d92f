# Everything works from a fresh clone with Python 3.11, pip and make.
PYTHON ?= $(shell command -v python3.11 || command -v python3)
VENV ?= .venv
BIN := $(VENV)/bin
PY := $(BIN)/python
STAMP := $(VENV)/.installed
USE ?= .venv-use
# extras of the service that are left out unless they are named: statistics, tables, telemetry
WITH ?=
EXTRAS := statistics tables telemetry
USED := $(if $(wildcard $(STAMP)),$(VENV),$(USE))

# what is started many times is compiled to bytecode once
unexport PYTHONDONTWRITEBYTECODE

.DEFAULT_GOAL := help
.PHONY: help setup use warm demo serve test test-fast fuzz lint docs openapi notebook client-models rules tables units bench bench-corpus bench-memory soak duties mutation chaos image image-test sbom release-notes licences audit lock clean

help: ## Show this list
	@awk 'BEGIN {FS = ":.*## "} /^[a-z-]+:.*## / {printf "  %-14s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

setup: $(STAMP) ## Make the virtual environment from the lock and install both packages in it

$(STAMP): tests/dev.lock service/pyproject.toml client/pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info[:2] >= (3, 11) else "Python 3.11 or newer is needed; set PYTHON=...")'
	test -x $(PY) || $(PYTHON) -m venv $(VENV)
	$(PY) -m pip install --quiet --disable-pip-version-check --require-hashes -r tests/dev.lock
	$(PY) -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e service -e client
	$(PY) -c 'from glandwise.questions.warm import warm; warm()'
	touch $@

use: $(USED)/.installed ## Make the environment of what service and client need to run, unless that of a developer is there (WITH="tables telemetry")

OTHER := $(if $(WITH),$(if $(filter $(WITH),$(shell cat $(USE)/.installed 2>/dev/null)),,others))
.PHONY: others
others:

# no installer, tests or headers stay in it, so that it is made anew where a lock has changed; sources are run where they are
$(USE)/.installed: docker/service.lock $(EXTRAS:%=docker/%.lock) docker/slim.py tests/client.lock $(OTHER)
	$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info[:2] >= (3, 11) else "Python 3.11 or newer is needed; set PYTHON=...")'
	$(PYTHON) -m venv --clear $(USE)
	$(USE)/bin/python -m pip install --quiet --disable-pip-version-check --no-compile --require-hashes \
	    -r docker/service.lock -r tests/client.lock $(WITH:%=-r docker/%.lock)
	$(USE)/bin/python docker/slim.py
	$(USE)/bin/python -c 'import pathlib, sysconfig; pathlib.Path(sysconfig.get_path("purelib"), "glandwise.pth").write_text("\n".join(str(pathlib.Path(part, "src").resolve()) for part in ("service", "client")) + "\n")'
	$(USE)/bin/python -c 'from glandwise.questions.warm import warm; warm()'
	echo $(WITH) > $@

demo: use ## Start the service on loopback, run three checks of an invented enquiry through the client, stop
	$(USED)/bin/python -m glandwise_client.demo

serve: use ## Serve on 127.0.0.1:8710 (GLANDWISE_HOST, GLANDWISE_PORT)
	$(USED)/bin/python -m glandwise

warm: setup ## Make the machine code of all formulas, where a source of them has changed
	$(PY) -c 'from glandwise.questions.warm import warm; warm()'

test: setup lint warm ## Lint, then run every test
	$(PY) -m pytest -n 2 --dist worksteal

test-fast: warm ## Tests without the slow and packaging ones
	$(PY) -m pytest -n 2 --dist worksteal -m "not slow and not packaging"

fuzz: warm ## Send what the contract allows and forbids to every operation, draw new examples for every law, and let a fuzzer at the parsers (minutes; INPUTS=1000000)
	FUZZ=1 $(PY) -m pytest -n 2 --dist worksteal -m "hypothesis or drawn"
	$(PY) -m tests.fuzz $(if $(INPUTS),--inputs $(INPUTS))

lint: setup ## Format check, lint, types, import directions
	$(BIN)/ruff format --check --quiet .
	$(BIN)/ruff check --quiet .
	$(BIN)/mypy --no-error-summary
	PYTHONPATH=. $(BIN)/lint-imports --no-logo

openapi: setup ## Write openapi/openapi.json, an example of each operation with its answer, the client's models, and run the notebook
	$(PY) -m glandwise.openapi_build openapi
	$(MAKE) --no-print-directory client-models notebook

notebook: setup ## Run the designer's notebook and write it with its outputs
	$(PY) service/docs/examples/notebook/build.py

client-models: setup ## Generate the client's models from openapi/openapi.json
	$(PY) client/generate.py

docs: setup ## Build the documentation as a site, without a network, into build/site; a link that leads nowhere stops it
	NO_MKDOCS_2_WARNING=1 $(BIN)/mkdocs build --config-file docs_site/mkdocs.yml

rules: setup ## Write the digest of the rule data into their changelog, and the JSON Schemas of the rule files into build/schemas
	$(PY) -m glandwise.rules.schemas build/schemas
	$(PY) -m glandwise.rules.changelog --update

tables: setup ## Build the mechanics tables again from their solvers
	$(PY) -m glandwise.mechanics.solvers

units: setup ## Derive the unit factors again from pint
	$(PY) -m glandwise.units_build

bench: warm ## Print throughput as a ratio of an empty endpoint, shares of the work, start-up time
	$(PY) -m tests.benchmarks

bench-memory: setup ## Print the memory of the service under a half hostile load (REQUESTS=100000)
	$(PY) -m tests.benchmarks.memory $(if $(REQUESTS),--requests $(REQUESTS))

soak: setup ## Load the service, half of it hostile, and print memory and times of single checks each minute (MINUTES=15)
	$(PY) -m tests.benchmarks.memory --minutes $(or $(MINUTES),15)

bench-corpus: setup ## Print cases per second, peak memory and the gain of two workers of a rule comparison over a corpus (CASES=1000000)
	$(PY) -m tests.benchmarks.corpus $(if $(CASES),--cases $(CASES))

duties: setup ## Ask the service about every invented duty, print the table, write it to service/docs/duties.md
	$(PY) -m tests.duties

mutation: setup ## Mutation testing of one module of formulas, in a copy of the project (MODULE=kinematics; long)
	rm -rf .mutation && git clone --quiet . .mutation
	sed 's/MODULE/$(or $(MODULE),kinematics)/' tests/mutation.toml > .mutation/settings.toml
	cd .mutation && export PATH=$(abspath $(BIN)):$$PATH PYTHONPATH=service/src:client/src:. && \
	    cosmic-ray init settings.toml session.sqlite && cr-filter-operators session.sqlite settings.toml && \
	    cosmic-ray baseline settings.toml && cosmic-ray exec settings.toml session.sqlite && \
	    cr-report session.sqlite --show-diff --surviving-only

chaos: warm ## Kill, restart, corrupt and crowd the service under load, and print what became of each case (SECONDS of each fault)
	$(PY) -m tests.chaos $(if $(SECONDS),--seconds $(SECONDS))

sbom: setup ## Write what the service is made of, with licences, as CycloneDX into build/sbom.json (WITH="tables telemetry")
	$(PY) -m tests.supply sbom build/sbom.json $(WITH)

release-notes: setup ## Write what changed in rules, engine and contract since a release, signed where KEY names an SSH key (SINCE=tag)
	@test -n "$(SINCE)" || { echo "SINCE names the release before, a tag or a commit."; exit 2; }
	$(PY) -m tests.supply.release build/release/NOTES.md --since "$(SINCE)" $(if $(KEY),--key "$(KEY)")

licences: setup ## Write the licences of what the service and the client need into service/docs/licences.md
	$(PY) -m tests.supply licences service/docs/licences.md

audit: setup ## Look for known vulnerabilities in what the service needs; fails where no database can be reached
	$(PY) -m tests.supply audit

IMAGE ?= glandwise-service:0.1.0
BASE ?= python:3.11-slim
ENGINE ?= $(shell command -v podman || command -v docker)
BUILDER ?= $(shell command -v buildah || command -v podman || command -v docker)

image: ## Build the image (BUILDER, BASE by digest in production, WITH="tables telemetry", BUILD_OPTIONS)
	@test -n "$(BUILDER)" || { echo "Neither buildah, podman nor docker is here: no image can be built."; exit 2; }
	$(BUILDER) build $(BUILD_OPTIONS) --file docker/Dockerfile --build-arg BASE=$(BASE) --build-arg WITH="$(WITH)" \
	    --build-arg SOURCE_DATE_EPOCH=$$(git log -1 --format=%ct) --tag $(IMAGE) .

image-test: setup ## Run the image as the manifests do and ask it everything (ENGINE, WITH as it was built, RUN_OPTIONS)
	$(PY) -m tests.image --image $(IMAGE) --engine "$(ENGINE)" --options "$(RUN_OPTIONS)" --extras "$(WITH)"

lock: setup ## Resolve the locks again
	$(BIN)/uv pip compile --quiet --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-annotate \
	    --group dev service/pyproject.toml client/pyproject.toml --all-extras -o tests/dev.lock
	$(BIN)/uv pip compile --quiet --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-annotate \
	    --constraint tests/dev.lock service/pyproject.toml --extra oidc --extra xlsx -o docker/service.lock
	$(BIN)/uv pip compile --quiet --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-annotate \
	    --constraint tests/dev.lock client/pyproject.toml --all-extras -o tests/client.lock
	for part in $(EXTRAS); do \
	    $(PY) -c 'import sys, tomllib; print(*tomllib.load(open("service/pyproject.toml", "rb"))["project"]["optional-dependencies"][sys.argv[1]], sep="\n")' $$part | \
	    $(BIN)/uv pip compile --quiet --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-annotate \
	    --constraint tests/dev.lock - -o docker/$$part.lock || exit 1; done
	printf 'hatchling>=1.33,<2\n' | $(BIN)/uv pip compile --quiet --python-version 3.11 --generate-hashes --no-emit-index-url \
	    --no-header --no-annotate --constraint tests/dev.lock - -o docker/build.lock

clean: ## Remove the virtual environment and caches
	rm -rf $(VENV) $(USE) .pytest_cache .mypy_cache .ruff_cache .hypothesis .schemathesis .import_linter_cache
