# Each of `make demo`, `make test`, `make page`, `make bench` works as the only command typed on a fresh clone.
# Nothing is installed outside .venv; what is installed is what requirements.lock says, hash by hash.

SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:

VENV := .venv
BIN := $(VENV)/bin
OUT ?= out
WORKERS ?= 2

# Small dense blocks ran up to 17 times slower with two BLAS threads than with one.
export OMP_NUM_THREADS := 1
export OPENBLAS_NUM_THREADS := 1
export PIP_DISABLE_PIP_VERSION_CHECK := 1

INSTALLED := $(VENV)/.installed
CHECKED := $(VENV)/.libraries-found

.PHONY: help demo test check audit page bench first-part docs stories faults doctor lock clean

help:
	@echo "make demo   rate the boat-shed jobs in examples/ and write their flats and models into $(OUT)/"
	@echo "make test   run the tests"
	@echo "make check  linter, type checker, import contract"
	@echo "make audit  ask whether a locked dependency is known to be vulnerable, where there is a network"
	@echo "make page   open the page in the browser"
	@echo "make docs   write the docs as a site into site/"
	@echo "make bench  print the benchmarks"
	@echo "make faults damage files, kill processes and take the machine away, ten thousand times; writes docs/faults.md"
	@echo "make doctor say whether this machine has what the libraries need"
	@echo "make lock   (maintainers) settle the versions again and write requirements.lock"
	@echo "make clean  remove .venv, $(OUT)/ and the caches"

# Tried in this order; PYTHON=/some/python3 overrides.
PYTHON ?=

$(INSTALLED): requirements.lock pyproject.toml
	@python=""; \
	for candidate in $(if $(PYTHON),$(PYTHON),python3.11 python3.12 python3.13 python3.14 python3); do \
	  if "$$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then python="$$candidate"; break; fi; \
	done; \
	if [ -z "$$python" ]; then \
	  echo "Python 3.11 or later was not found. On Debian or Ubuntu: apt install python3 python3-venv" >&2; exit 1; \
	fi; \
	if ! "$$python" -c 'import ensurepip, venv' 2>/dev/null; then \
	  echo "$$python cannot make a virtual environment here. On Debian or Ubuntu: apt install python3-venv" >&2; exit 1; \
	fi; \
	if ! "$(BIN)/python" -m pip --version >/dev/null 2>&1; then "$$python" -m venv --clear $(VENV); fi
	@echo "Installing what requirements.lock names into $(VENV) (about 1 GB; the first time takes a minute or two) ..."
	@$(BIN)/python -m pip install --quiet --require-hashes -r requirements.lock
	@$(BIN)/python -m pip install --quiet --no-deps --no-build-isolation -e .
	@touch $@

# A library that cannot be loaded is named here, before a test or a job trips over it.
$(CHECKED): $(INSTALLED)
	@$(BIN)/python -m steadfold.cli.doctor --only-failures
	@touch $@

# Exit status 0 enough or tight, 1 not enough or stop, 3 unproven: all three are answers. 2 is a job that cannot be read.
demo: $(CHECKED)
	@shopt -s nullglob; jobs=(examples/*.toml); \
	if [ $${#jobs[@]} -eq 0 ]; then echo "There is no job in examples/." >&2; exit 1; fi; \
	for job in "$${jobs[@]}"; do \
	  name="$$(basename "$$job" .toml)"; \
	  echo; echo "== $$job"; \
	  status=0; $(BIN)/steadfold rate "$$job" || status=$$?; \
	  case $$status in 0|1|3) ;; *) echo "steadfold rate $$job ended with status $$status." >&2; exit 1;; esac; \
	  $(BIN)/steadfold flat "$$job" --out "$(OUT)/$$name" --models; \
	done; \
	echo; echo "Written into $(OUT)/:"; find "$(OUT)" -type f | sort | sed 's/^/  /'

# pytest ends with status 5 when it collected nothing, and tests/conftest.py does the same when nothing passed.
test: $(CHECKED)
	@$(BIN)/python -m pytest -n $(WORKERS)

check: $(INSTALLED)
	@status=0; \
	$(BIN)/ruff check . || status=1; \
	$(BIN)/mypy || status=1; \
	$(BIN)/lint-imports --no-logo || status=1; \
	exit $$status

audit: $(INSTALLED)
	@$(BIN)/python .ci/audit.py

page: $(CHECKED)
	@if $(BIN)/steadfold page --help >/dev/null 2>&1; then $(BIN)/steadfold page; \
	else echo "This version has no page yet; 'make demo' shows the same answers on the terminal." >&2; exit 1; fi

bench: $(CHECKED)
	@shopt -s nullglob; benchmarks=(benchmarks/*.py); \
	if [ $${#benchmarks[@]} -eq 0 ]; then echo "There is nothing in benchmarks/." >&2; exit 1; fi; \
	status=0; for benchmark in "$${benchmarks[@]}"; do \
	  echo; echo "== $$benchmark"; $(BIN)/python "$$benchmark" || status=$$?; \
	done; exit $$status

# The first five minutes walked again, timed, and written into docs/first-part.md; CLONE=--clone starts from a fresh clone.
first-part: $(CHECKED)
	@PYTHONPATH=. $(BIN)/python -m tests.browser.first_part $(CLONE)

# Readable as files in docs/ too; a broken link, a page left out or a warning stops it.
docs: $(INSTALLED)
	@$(BIN)/python docs_theme/written.py
	@$(BIN)/mkdocs build --strict
	@echo "Written into site/: open site/index.html"

# The stories beside their hand answers, out of the rows that the tests wrote.
stories: $(INSTALLED)
	@$(BIN)/python -m tests.stories

# SEED=2 draws other cases. Hours on a busy machine; what goes wrong is kept in out/faults.
SEED ?= 1
faults: $(CHECKED)
	@$(BIN)/python -m tests.faults.campaign --seed $(SEED) --keep $(OUT)/faults --write docs/faults.md

doctor: $(INSTALLED)
	@$(BIN)/python -m steadfold.cli.doctor

# uv is a maintainer's tool and not in the lock: `pip install uv` first. The lock holds hashes and no address.
lock:
	@command -v uv >/dev/null || PATH="$(CURDIR)/$(BIN):$$PATH" command -v uv >/dev/null || { echo "make lock wants uv: pip install uv" >&2; exit 1; }
	@PATH="$$PATH:$(CURDIR)/$(BIN)" UV_CUSTOM_COMPILE_COMMAND="make lock" uv pip compile --quiet --universal --python-version 3.11 \
	  --generate-hashes --no-emit-index-url --no-emit-find-links --extra dev --extra cluster pyproject.toml -o requirements.lock

clean:
	rm -rf $(VENV) $(OUT) build dist site .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
