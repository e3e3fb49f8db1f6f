# Two commands matter: `make demo` and `make test`. Everything they need they set up themselves.
PYTHON ?= python3
PORT ?= 8470
DEMO_DIR ?= demo-workshop
SERVE ?= 1
BIN := .venv/bin

# Compiled once, whatever the shell says: a command that compiles all it loads takes seconds longer.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: demo test check bench mutants docs lock clean browser

# The locks are whole, so pip need not look for what they leave out (--no-deps); Python compiles what it uses (--no-compile).
.venv/.run: requirements.lock pyproject.toml
	$(PYTHON) -m venv .venv
	$(BIN)/pip install --quiet --disable-pip-version-check --no-compile --no-deps --require-hashes -r requirements.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-compile --no-deps -e .
	@touch $@

.venv/.dev: .venv/.run requirements-dev.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-compile --no-deps --require-hashes -r requirements-dev.lock
	@touch $@

demo: .venv/.run
	$(BIN)/camerawright --workshop $(DEMO_DIR) demo
	@if [ "$(SERVE)" != 0 ]; then exec $(BIN)/camerawright --workshop $(DEMO_DIR) serve --port $(PORT); fi

# Chromium, its driver, a sound server and a few recorded sounds come from the distribution: with root they are
# installed, without it this says what to do.
DEBIAN := chromium chromium-driver pulseaudio pulseaudio-utils sound-theme-freedesktop
browser:
	@command -v chromium >/dev/null && command -v chromedriver >/dev/null && command -v paplay >/dev/null && \
	command -v pulseaudio >/dev/null && test -d /usr/share/sounds/freedesktop || \
	if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $(DEBIAN) >/dev/null; \
	else \
		echo "Tests in a browser, through a sound server and of recorded sounds that cannot run here are skipped; they need: sudo apt-get install $(DEBIAN)"; \
	fi

check: .venv/.dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

# Two test processes share the cores; more threads would only get in their way.
test: export OPENBLAS_NUM_THREADS = 1
test: check browser
	$(BIN)/pytest -n 2 --dist worksteal --hypothesis-profile=steady

bench: .venv/.dev
	$(BIN)/python -m benchmarks

# The page of commands, from the commands themselves.
docs: .venv/.run
	$(BIN)/python -m camerawright.cli.documented > docs/commands.md

# Breaks the pure modules on purpose, one change of ten, and scores what the tests notice: docs/mutants.md.
MUTANTS ?= camerawright.*__mutmut_*[7]
mutants: export OPENBLAS_NUM_THREADS = 1
mutants: .venv/.dev
	rm -rf mutants
	nice $(BIN)/python -m tests.mutants '$(MUTANTS)'

# The locks carry hashes and no addresses.
lock:
	uv export --quiet --no-dev --no-emit-project --no-annotate --no-header -o requirements.lock
	uv export --quiet --no-emit-project --no-annotate --no-header -o requirements-dev.lock

clean:
	rm -rf .venv mutants $(DEMO_DIR)
