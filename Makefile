# Two targets do everything on a fresh machine: `make demo` and `make test`.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check
READY := $(VENV)/.ready
BROWSER := src/neckring/web/static/third_party/versions.json
READY_TO_TEST := $(VENV)/.ready-to-test
UV := build/uv/bin/uv

.PHONY: demo test lint soak bench picture lock clean

$(VENV)/.made: scripts/make_venv.sh
	@echo "making a virtual environment in $(VENV) ..."
	@sh scripts/make_venv.sh "$(PYTHON)" $(VENV)
	@touch $@

$(READY): $(VENV)/.made pyproject.toml requirements.lock
	@echo "installing what neckring needs (once, about a minute) ..."
	@$(PIP) install --quiet --require-hashes --requirement requirements.lock
	@$(PIP) install --quiet --no-deps --editable .
	@touch $@

# Charts of the console's pages, by the lock file; without npm they are left out, and it is said.
$(BROWSER): package-lock.json scripts/browser_code.py
	@$(PYTHON) scripts/browser_code.py || true

$(READY_TO_TEST): $(READY) $(BROWSER) requirements-dev.lock
	@echo "installing what its tests need (once, about a minute) ..."
	@$(PIP) install --quiet --require-hashes --requirement requirements-dev.lock
	@touch $@

demo: $(READY) $(BROWSER)
	@rm -rf build/demo
	@mkdir -p build
	$(BIN)/neckring new build/demo --demo
	$(BIN)/neckring check build/demo
	$(BIN)/neckring plan floor-survey --station build/demo --report build/floor-survey.html
	$(BIN)/neckring plan bench-climb --station build/demo --report build/bench-climb.html
	$(BIN)/neckring prove dress --station build/demo --report build/dress.html
	@echo
	@echo "Both plans as pages, for a browser or a printer: build/floor-survey.html, build/bench-climb.html;"
	@echo "and a procedure, examined: build/dress.html"

lint: $(READY_TO_TEST)
	$(BIN)/ruff format --check src tests bench scripts hatch_build.py
	$(BIN)/ruff check src tests bench scripts hatch_build.py
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache

test: lint
	@sh scripts/test_packages.sh
	$(BIN)/pytest -n auto --dist loadgroup $(foreach each,$(ONE_BY_ONE),--ignore=$(each))
	$(BIN)/pytest $(ONE_BY_ONE)

# The first write one page between them; the second share a name, and only one of them would run.
ONE_BY_ONE = tests/validation tests/web/test_fuzz.py

soak: $(READY_TO_TEST)
	@sh scripts/test_packages.sh
	NECKRING_SOAK=1 $(BIN)/pytest

bench: $(READY_TO_TEST)
	@mkdir -p build
	$(BIN)/python bench/run.py

# The picture in README.md, anew from the demo; look at it before you commit it.
picture: $(READY_TO_TEST) demo
	$(BIN)/python scripts/draw_picture.py build/bench-climb.html docs/pictures/plan.png

$(UV): $(READY)
	@$(PIP) install --quiet --target build/uv uv

# Raise the locked versions with: make lock UPGRADE=--upgrade
lock: $(UV)
	$(UV) pip compile $(LOCKING) pyproject.toml --output-file requirements.lock
	$(UV) pip compile $(LOCKING) --extra dev pyproject.toml --output-file requirements-dev.lock
	echo pip | $(UV) pip compile $(LOCKING) --no-annotate - --output-file requirements-pip.lock

LOCKING = --universal --generate-hashes --no-emit-index-url --custom-compile-command "make lock" --quiet $(UPGRADE)

clean:
	rm -rf build dist .mypy_cache .ruff_cache .pytest_cache .hypothesis
