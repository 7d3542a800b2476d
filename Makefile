# Two commands on a fresh machine: `make demo` and `make test`. Each makes its own virtual environment from a locked list.
PY ?= $(shell for p in python3 python3.13 python3.12 python3.11; do \
	command -v $$p >/dev/null 2>&1 && $$p -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && echo $$p && break; done)
RUN := .venv
TEST := .venv-test
SERVE ?= 1
DEMO := build/demo

.PHONY: demo test check lock clean ready

demo: $(RUN)/.ok
	@$(RUN)/bin/python examples/demo.py --to $(DEMO)
ifneq ($(SERVE),0)
	@$(RUN)/bin/scrieve serve $(DEMO)/merganser.boat
endif

test: $(TEST)/.ok
	@sh tools/needed
	@$(TEST)/bin/python -m pytest -n logical --maxprocesses 4 --dist loadfile --max-worker-restart 0

# lint, format, types, and which folder may import which
check: $(TEST)/.ok
	$(TEST)/bin/ruff check .
	$(TEST)/bin/ruff format --check .
	$(TEST)/bin/mypy
	$(TEST)/bin/lint-imports --no-logo

ready:
	@test -n "$(PY)" || { echo "make: python3 of version 3.11 or newer is missing; on Debian 12: apt-get install python3"; exit 1; }
	@$(PY) -c 'import venv, ensurepip' 2>/dev/null || { echo "make: $(PY) lacks venv; on Debian: apt-get install python3-venv"; exit 1; }
	@command -v git >/dev/null 2>&1 || { echo "make: git is missing; on Debian: apt-get install git"; exit 1; }

$(RUN)/.ok: requirements.lock pyproject.toml Makefile | ready
	@echo "setting up $(RUN) (once)"
	@$(PY) -m venv --clear $(RUN)
	@$(RUN)/bin/python -m pip --disable-pip-version-check install -q --require-hashes --only-binary :all: -r requirements.lock
	@$(RUN)/bin/python -m pip --disable-pip-version-check install -q --no-deps --no-build-isolation -e .
	@touch $@

$(TEST)/.ok: requirements-test.lock pyproject.toml Makefile | ready
	@echo "setting up $(TEST) (once)"
	@$(PY) -m venv --clear $(TEST)
	@$(TEST)/bin/python -m pip --disable-pip-version-check install -q --require-hashes --only-binary :all: -r requirements-test.lock
	@$(TEST)/bin/python -m pip --disable-pip-version-check install -q --no-deps --no-build-isolation -e .
	@touch $@

# for developers: write the locked lists anew (needs uv)
lock:
	uv pip compile -q --universal --python-version 3.11 --generate-hashes --no-annotate --no-header pyproject.toml --group build -o requirements.lock
	uv pip compile -q --universal --python-version 3.11 --generate-hashes --no-annotate --no-header pyproject.toml --group build --group dev -c requirements.lock -o requirements-test.lock

clean:
	rm -rf $(RUN) $(TEST) build
