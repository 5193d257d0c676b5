# Two targets do everything on a fresh machine: `make demo` and `make test`.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed

.PHONY: demo test soak bench lint clean lock

$(BIN)/python:
	sh scripts/make_venv.sh $(PYTHON) $(VENV)

$(STAMP): $(BIN)/python pyproject.toml requirements.lock requirements-dev.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --editable .
	touch $@

$(VENV)/.installed-dev: $(STAMP)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements-dev.lock
	touch $@

demo: $(STAMP)
	rm -rf build/demo
	mkdir -p build
	$(BIN)/neckring new build/demo --demo
	$(BIN)/neckring check build/demo
	$(BIN)/neckring plan floor-survey --station build/demo --report build/floor-survey.html
	$(BIN)/neckring plan bench-climb --station build/demo --report build/bench-climb.html

lint: $(VENV)/.installed-dev
	$(BIN)/ruff format --check src tests bench
	$(BIN)/ruff check src tests bench
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache

test: lint
	sh scripts/test_packages.sh
	$(BIN)/pytest

soak: $(VENV)/.installed-dev
	NECKRING_SOAK=1 $(BIN)/pytest -q

bench: $(VENV)/.installed-dev
	mkdir -p build
	$(BIN)/python bench/run.py

lock: $(VENV)/.installed-dev
	$(BIN)/uv pip compile --universal --generate-hashes --no-emit-index-url --quiet \
		pyproject.toml --output-file requirements.lock
	$(BIN)/uv pip compile --universal --generate-hashes --no-emit-index-url --quiet \
		--extra dev pyproject.toml --output-file requirements-dev.lock

clean:
	rm -rf build dist .mypy_cache .ruff_cache .pytest_cache
