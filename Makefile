# make demo    the whole main job on the demo van; ends by saying where to look
# make test    set-up, lint, types and every test
# make quick   most tests, in a minute: none that starts a workbench, a browser or the solid kernel, or computes for long
# make check   lint and types alone        make bench   the benchmarks        make docs   the generated pages

PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
UV     := uv==0.13.9
READY  := $(VENV)/ready
TESTED := $(VENV)/ready-dev

RUN_PACKAGES  := libgl1 libexpat1
TEST_PACKAGES := ngspice admesh chromium fonts-liberation

.PHONY: setup demo test quick check bench docs clean lock

setup: $(READY)

demo: $(READY)
	$(BIN)/backwave demo

test: check
	$(BIN)/python -m pytest -n 2 --dist worksteal

quick: $(TESTED)
	$(BIN)/python -m pytest -n 2 --dist worksteal -m "not slow and not kernel and not browser"

check: $(TESTED)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(TESTED)
	$(BIN)/python -m benchmarks

docs: $(TESTED)
	$(BIN)/python tools/make_docs.py

clean:
	rm -rf $(VENV) demo .pytest_cache .mypy_cache .ruff_cache .hypothesis

$(VENV)/bin/uv:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	    { echo "backwave needs Python 3.11 or later; say which: make PYTHON=python3.12" >&2; exit 3; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || ./tools/system-packages python3-venv
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install -q $(UV)

# The lock names no host; bytecode is compiled once, here, or every later start is slow.
$(READY): requirements.lock pyproject.toml | $(VENV)/bin/uv
	./tools/system-packages $(RUN_PACKAGES)
	$(BIN)/uv pip install -q --compile-bytecode --no-deps -r requirements.lock
	$(BIN)/uv pip install -q --no-deps -e .
	$(BIN)/python -m compileall -q src
	@touch $@

$(TESTED): requirements-dev.lock $(READY)
	./tools/system-packages $(TEST_PACKAGES)
	$(BIN)/uv pip install -q --compile-bytecode --no-deps -r requirements-dev.lock
	@touch $@

# After a change to pyproject.toml: make lock
LOCK := $(BIN)/uv pip compile pyproject.toml --universal --python-version 3.11 \
        --no-emit-index-url --no-header --no-annotate -q
lock: | $(VENV)/bin/uv
	$(LOCK) -o requirements.lock
	$(LOCK) --extra dev -c requirements.lock -o requirements-dev.lock
