# Riseline: make demo · make test · make lint · make bench · make torture · make stop
SHELL := /bin/bash
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:

# The first Python of those we support; override with `make demo PYTHON=python3.12`.
PYTHON ?= $(shell for p in python3 python3.13 python3.12 python3.11; do \
  $$p -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' 2>/dev/null && echo $$p && break; done)
UV_VERSION := 0.13.9
TYPESCRIPT_VERSION := 7.0.2
STAMP := .venv/.installed
RUN := .venv/bin
ADDRESS := 127.0.0.1
PORT ?= 8321
TESTS ?=
DEMO := var/demo
DEMO_SETTINGS := RISELINE_PID_FILE=$(CURDIR)/$(DEMO)/riseline.pid RISELINE_DEMO=true RISELINE_SECURE_COOKIES=false RISELINE_WORKER_THREAD=true \
  RISELINE_HOST=$(ADDRESS) RISELINE_PORT=$(PORT) \
  RISELINE_DATABASE_URL=sqlite:///$(CURDIR)/$(DEMO)/riseline.db RISELINE_FILES=$(CURDIR)/$(DEMO)/files

export PIP_DISABLE_PIP_VERSION_CHECK := 1
# Some images forbid writing compiled modules; then every start compiles sixteen hundred of them.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: help demo test lint bench bench-physics bench-trends bench-plan bench-field torture stop lock migration pictures install

help:
	@echo "make demo         the service with invented data on http://$(ADDRESS):$(PORT) (FRESH=1 starts over)"
	@echo "make stop         stop the demo"
	@echo "make test         every test; TESTS=tests/jobs runs a part"
	@echo "make lint         style, types, imports, dependencies, scripts"
	@echo "make bench        the benchmarks; figures go to var/bench/ (bench-physics, -trends, -plan, -field: one alone)"
	@echo "make torture      the full figures of the reliability rows (takes long)"
	@echo "make lock         bring requirements.lock up to pyproject.toml"
	@echo "make migration    draft the next migration: SAYS='add a column'"
	@echo "make pictures     the pictures of README, from the running screens"

install: $(STAMP)

# uv installs in seconds; where it has no wheel, pip takes the same file in about a minute.
$(STAMP): requirements.lock pyproject.toml
	@test -n "$(PYTHON)" || { echo "Riseline needs Python 3.11, 3.12 or 3.13 (none found)."; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
	  echo "Python cannot make virtual environments here. On Debian or Ubuntu:"; \
	  echo "  sudo apt-get install -y python3-venv make"; exit 1; }
	@echo "Installing into .venv (first time only) ..."
	@test -x $(RUN)/python || $(PYTHON) -m venv .venv
	@if $(RUN)/python -m pip install -q uv==$(UV_VERSION) 2>/dev/null \
	  && $(RUN)/uv pip install -q --python $(RUN)/python --require-hashes -r requirements.lock; then true; \
	else echo "uv did not work here; installing with pip ..."; \
	  $(RUN)/python -m pip install -q --require-hashes -r requirements.lock; fi
	@$(RUN)/python -m pip install -q --no-deps --no-build-isolation --editable .
	@touch $(STAMP)

demo: $(STAMP)
ifdef FRESH
	@$(MAKE) --no-print-directory stop
	@rm -rf $(DEMO)
endif
	@$(DEMO_SETTINGS) exec $(RUN)/riseline demo

# The process is only ours to stop while its number still names our command.
stop:
	@if [ -f $(DEMO)/riseline.pid ] && ps -p "$$(cat $(DEMO)/riseline.pid)" -o args= | grep -q 'riseline demo'; then \
	  kill "$$(cat $(DEMO)/riseline.pid)"; \
	  for i in $$(seq 50); do [ -f $(DEMO)/riseline.pid ] || break; sleep 0.2; done; \
	  echo "The demo has stopped."; \
	else rm -f $(DEMO)/riseline.pid; echo "No demo is running."; fi

# All tests on all processors; a part of them is quicker in one process.
test: $(STAMP)
	$(RUN)/python -m pytest -m "not torture" $(if $(TESTS),,-n auto --dist loadscope --no-loadscope-reorder) $(TESTS)

torture: $(STAMP)
	$(RUN)/python -m pytest -m torture -rA $(TESTS)

bench: $(STAMP)
	$(RUN)/python -m bench

bench-physics: $(STAMP)
	$(RUN)/python -m bench physics

bench-trends: $(STAMP)
	$(RUN)/python -m bench trends

bench-plan: $(STAMP)
	$(RUN)/python -m bench plan

bench-field: $(STAMP)
	$(RUN)/python -m bench field

lint: $(STAMP)
	$(RUN)/ruff check .
	$(RUN)/ruff format --check .
	$(RUN)/mypy --strict
	$(RUN)/lint-imports
	$(RUN)/deptry .
	$(RUN)/oxlint --deny-warnings $(wildcard web/js web/field)
	@if command -v npx >/dev/null; then \
	  echo "tsc --checkJs (TypeScript $(TYPESCRIPT_VERSION), kept outside the project)"; \
	  npx --yes --package typescript@$(TYPESCRIPT_VERSION) tsc --project web/jsconfig.json; \
	elif [ -n "$$CI" ]; then echo "CI needs node for the types of the scripts"; exit 1; \
	else echo "NOT CHECKED: types of the scripts (no node here)"; fi

lock: $(STAMP)
	@test -x $(RUN)/uv || $(RUN)/python -m pip install -q uv==$(UV_VERSION)
	$(RUN)/uv pip compile -q --universal --python-version 3.11 --generate-hashes --no-annotate --no-header \
	  --extra postgres --group dev pyproject.toml -o requirements.lock

migration: $(STAMP)
	@test -n "$(SAYS)" || { echo 'make migration SAYS="add a column"'; exit 1; }
	@$(RUN)/python -c 'import sys; from service.settings import ROOT; from service.storage.schema import draft_revision; \
	  print(draft_revision(sys.argv[1], migrations=ROOT / "migrations"))' "$(SAYS)"

pictures: $(STAMP)
	$(RUN)/python -m tests.browser.pictures
