# make demo   set everything up and build the templates of the demo flying boat
# make desk   set everything up and open the desk in the browser
# make test   run the tests, without those that are marked slow
# make slow   run every test
# make check  what a commit must pass besides the tests: lint, format, types
# make bench  speed against a plain script, as ratios
# make fuzz   damaged and invented files and jobs against the readers, FUZZ_SECONDS each
# make mutation  whether the tests of four modules notice a changed line; hours

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
DEMO := skerrywing
READY := $(BIN)/python -c "import sys; from profiles.paper.fonts import missing_requirements as missing; \
	sys.exit('Install ' + ' and '.join(missing()) if missing() else 0)"

.PHONY: demo desk test slow check bench fuzz mutation system browser clean

demo: $(VENV)/.stamp-run system
	$(BIN)/stationer make models/$(DEMO).toml --out output/$(DEMO)
	@echo
	@echo "The templates lie in $(CURDIR)/output/$(DEMO)/templates.pdf"

desk: $(VENV)/.stamp-desk system
	$(BIN)/stationer desk

test: $(VENV)/.stamp-dev system browser
	$(BIN)/pytest -q -n auto -m 'not slow'

slow: $(VENV)/.stamp-dev system browser
	STATIONER_ALL_EXAMPLES=1 $(BIN)/pytest -q -n auto

check: $(VENV)/.stamp-dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(VENV)/.stamp-dev system
	$(BIN)/python tests/bench/run.py

FUZZ_SECONDS ?= 60
FUZZ_JOBS ?= 100
# libFuzzer ends without a farewell, so what the fuzzers lay down is cleared away here.
FUZZ_ROOM := $(CURDIR)/$(VENV)/fuzz

fuzz: $(VENV)/.stamp-dev system
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[dev,fuzz]'
	rm -rf "$(FUZZ_ROOM)" && mkdir "$(FUZZ_ROOM)"
	TMPDIR="$(FUZZ_ROOM)" $(BIN)/python tests/fuzz/fuzz_loaders.py -max_total_time=$(FUZZ_SECONDS)
	TMPDIR="$(FUZZ_ROOM)" $(BIN)/python tests/fuzz/fuzz_job.py -max_total_time=$(FUZZ_SECONDS)
	TMPDIR="$(FUZZ_ROOM)" $(BIN)/python tests/fuzz/mutate.py --seconds $(FUZZ_SECONDS)
	TMPDIR="$(FUZZ_ROOM)" $(BIN)/python tests/fuzz/random_options.py --jobs $(FUZZ_JOBS)
	rm -rf "$(FUZZ_ROOM)"

mutation: $(VENV)/.stamp-dev system
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[dev,mutation]'
	$(BIN)/mutmut run --max-children 1
	$(BIN)/mutmut results

# The cairo library and one font cannot come with a Python package. As root on Debian they are installed, elsewhere named.
system: $(VENV)/.stamp-run
	@if ! $(READY) >/dev/null 2>&1 && [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq libcairo2 fontconfig fonts-dejavu-core >/dev/null; \
	fi
	@$(READY)

# The page of the desk is tested in a real browser; where there is none, those tests are skipped and say so.
browser:
	@if ! command -v chromium >/dev/null && [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium >/dev/null \
			|| echo "chromium could not be installed: the tests of the page are skipped"; \
	fi

$(VENV)/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "Python 3.11 or newer is needed; name it with: make PYTHON=python3.12"; exit 1; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/.stamp-run: $(VENV)/bin/python pyproject.toml
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .
	@touch $@

$(VENV)/.stamp-desk: $(VENV)/.stamp-run pyproject.toml
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[desk]'
	@touch $@

$(VENV)/.stamp-dev: $(VENV)/.stamp-run pyproject.toml
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[dev]'
	@touch $@

clean:
	rm -rf $(VENV) .mypy_cache .pytest_cache .ruff_cache .hypothesis mutants
