# `make run` and `make test` set up all they need: python3.11 or newer, make and a package registry.
SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help
.PHONY: help run setup test lint types locks bench clean

VENV := .venv
PY := $(VENV)/bin/python
# Zone rules come from the locked tzdata package, never from the machine.
export PYTHONTZPATH :=

help:
	@echo 'make run    set up and serve the demo company until Ctrl-C'
	@echo 'make test   set up and run the fast tests on SQLite'
	@echo 'make lint   style, import directions'
	@echo 'make types  types'
	@echo 'make locks  pin the packages of requirements/*.in again'
	@echo 'make bench  measure all that lies in benchmarks/ (some take minutes), or one: ONLY=feed_fragments'
	@echo 'make clean  remove .venv and caches; data in var/ stays'

run:
	@.ci/install run
	@exec $(PY) manage.py serve --prepare

setup:
	@.ci/install run
	@$(PY) manage.py setup

test:
	@.ci/install test
	@.ci/fast

lint:
	@.ci/install test
	@$(VENV)/bin/ruff check .
	@$(VENV)/bin/ruff format --check .
	@$(VENV)/bin/lint-imports

types:
	@.ci/install test
	@$(VENV)/bin/mypy .

LOCK := uv pip compile --quiet --universal --python-version 3.11 --fork-strategy fewest --generate-hashes \
	--no-emit-index-url --no-header --no-annotate

locks:
	@command -v uv >/dev/null || { echo 'make locks needs uv: python3 -m pip install uv' >&2; exit 1; }
	@$(LOCK) --only-binary :all: $(UPGRADE) requirements/run.in -o requirements.lock
	@$(LOCK) $(UPGRADE) -c requirements.lock requirements/test.in -o requirements-test.lock

bench:
	@.ci/install test
	@for one in $(or $(ONLY),$(basename $(notdir $(shell grep -l __main__ benchmarks/*.py)))); do \
	  echo "== $$one"; $(PY) -m "benchmarks.$$one"; done

clean:
	@rm -rf $(VENV) .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache staticfiles
	@find . -name __pycache__ -type d -not -path './.git/*' -prune -exec rm -rf {} +
