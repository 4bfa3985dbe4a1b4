# What a newcomer needs: `make demo`, `make test`. Nothing but Python 3.11 or newer is asked for.
PYTHON ?= python3
VENV   ?= .venv
WORKERS ?= 2

PY  := $(VENV)/bin/python
PIP := $(PY) -m pip --disable-pip-version-check --quiet --quiet
SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help
.PHONY: help demo test lint types tests browser coverage format words bench audit clean

help:
	@echo "make demo      build the invented publication in demo_site/ and name the page to open"
	@echo "make test      style, types and all tests; brings Chromium where it may"
	@echo "make format    put the code into its usual form, fix what needs no thought"
	@echo "make words     bring new interface words into the catalogues of all languages"
	@echo "make coverage  the tests once more, with the lines that none of them reach"
	@echo "make bench     the table of speeds, where bench/ exists"
	@echo "make audit     known vulnerabilities of the pinned packages; asks the network"
	@echo "make clean     remove the virtual environment and everything that was made"

demo: $(VENV)/.ready-demo
	@$(PY) -m sitegen build demo_site

test: $(VENV)/.ready-test browser lint types tests

lint: $(VENV)/.ready-test
	@$(PY) -m ruff check .
	@$(PY) -m ruff format --check --quiet . || { echo "some files are not in their usual form: make format"; exit 1; }

types: $(VENV)/.ready-test
	@$(PY) -m mypy

# The closing line comes last, so that whoever calls this reads how many tests ran.
tests: $(VENV)/.ready-test
	@$(PY) -m pytest -n $(WORKERS) --dist loadgroup -rfEs $(ARGS)

# Chromium comes from the system's packages, never from a download of its own.
browser:
	@if [ -n "$${SITEGEN_CHROMIUM:-}" ] || command -v chromium chromium-browser >/dev/null; then exit 0; fi; \
	if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	  echo "Chromium is missing; installing it with apt-get"; \
	  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium >/dev/null || true; \
	fi; \
	if ! command -v chromium chromium-browser >/dev/null; then \
	  echo "There is no Chromium here and it can't be installed without asking you: the tests that look at pages in a browser"; \
	  echo "(tests/browser) will be skipped. To run them: sudo apt-get install chromium, or SITEGEN_CHROMIUM=/path/to/it make test"; \
	fi

coverage: $(VENV)/.ready-test
	@$(PY) -m coverage erase
	@$(PY) -m coverage run -m pytest -q -m "not browser" $(ARGS)
	@$(PY) -m coverage combine --quiet || true
	@$(PY) -m coverage report

format: $(VENV)/.ready-test
	@$(PY) -m ruff check --fix --quiet . || true
	@$(PY) -m ruff format .

words: $(VENV)/.ready-demo
	@$(PY) -m sitegen.figures.forms.extract --add

bench: $(VENV)/.ready-demo
	@if [ -d bench ]; then $(PY) -m bench $(ARGS); else echo "there is no bench/ yet"; fi

# The newest release on purpose, in an environment of its own: what it knows has to be of today. --strict: what can't be
# looked up is a failure, never silence.
audit:
	@test -x $(VENV)-audit/bin/pip-audit || { $(PYTHON) -m venv $(VENV)-audit && $(VENV)-audit/bin/pip install --quiet --quiet pip-audit; }
	@$(VENV)-audit/bin/pip-audit --strict --progress-spinner off --disable-pip --require-hashes -r requirements-test.txt || { \
	  echo "Not every pin could be vouched for: see above. Where the list can't be asked, run this where the network allows it."; exit 1; }

clean:
	rm -rf $(VENV) $(VENV)-audit demo_site_built build dist .mypy_cache .ruff_cache .pytest_cache .hypothesis .coverage*

# One stamp for each set of packages; it is older than its list after the list changed, and then the set is installed anew.
$(VENV)/.ready-demo: requirements.txt pyproject.toml | $(PY)
	$(call install,requirements.txt)
	@touch $@

$(VENV)/.ready-test: requirements-test.txt pyproject.toml | $(PY)
	$(call install,requirements-test.txt)
	@touch $@ $(VENV)/.ready-demo

$(PY):
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "Python 3.11 or newer is needed; name it with: make PYTHON=python3.12 …"; exit 1; }
	@$(PYTHON) -m venv $(VENV) || \
	  { rm -rf $(VENV); echo "Python could not make a virtual environment; on Debian and Ubuntu: apt-get install python3-venv"; exit 1; }

# Packages as pinned, each checked against its hash; then the checkout itself, so that $(VENV)/bin/sitegen runs what stands here.
define install
@echo "Installing the packages of $(1) into $(VENV) (once; takes a minute or so)"
@$(PIP) install --require-hashes --only-binary :all: -r $(1) && $(PIP) install --no-index --no-deps --no-build-isolation -e . || { \
  echo; echo "The packages could not be installed: see pip's words above."; \
  echo "Without a network: put the files that '$(PY) -m pip download -r $(1) -d FOLDER' brings where there is one"; \
  echo "into a folder here and say: PIP_NO_INDEX=1 PIP_FIND_LINKS=FOLDER make $(MAKECMDGOALS)"; exit 1; }
endef
