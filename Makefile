# Two commands matter: `make run` serves the whole thing, `make test` runs every test.
PYTHON ?= python3
PY := .venv/bin/python
READY := .venv/.ready
READY_DEV := .venv/.ready-dev
# make run ARGS=--no-demo starts an empty shop; make test ARGS="-k sync" runs some tests.
ARGS ?=
# In how many processes tests run: three for two cores (tests/conftest.py).
PROCESSES ?= auto

# Compiled modules are kept beside them: every process that tests start would compile them anew.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: run test check texts bench bench-docs mutate format lock clean

run: $(READY)
	@exec $(PY) manage.py start $(ARGS)

test: $(READY_DEV)
	$(PY) -m pytest -n $(PROCESSES) --dist loadfile --no-loadscope-reorder --durations=20 $(ARGS)

check: $(READY_DEV)
	$(PY) -m ruff check .
	$(PY) -m ruff format --check .
	.venv/bin/oxlint --deny-warnings shopdiag/static/js
	$(PY) -m mypy .
	.venv/bin/lint-imports
	$(PY) -W error manage.py makemigrations --check --dry-run
	$(PY) -W error manage.py check
	$(PY) -W error manage.py check_messages

# Bring the catalogues in locale/ up to the texts of the code; what is new there waits for its words.
texts: $(READY)
	$(PY) manage.py update_texts

# Accuracy of both methods on seeded simulated captures, time and memory beside pandas.
# make bench ARGS=--quick takes a minute; ARGS=--held-out takes the seeds kept aside; ARGS=--full
# reads 100 million samples of two channels instead of 20.
bench: $(READY_DEV)
	$(PY) -m bench.balance $(ARGS)
	$(PY) -m bench.traps $(ARGS)
	$(PY) -m bench.running_balance $(ARGS)
	$(PY) -m bench.listening $(filter --held-out,$(ARGS))
	$(PY) -m bench.pressure $(ARGS)
	$(PY) -m bench.cam_timing $(filter --quick --held-out,$(ARGS))
	$(PY) -m bench.typical
	$(PY) -m bench.starter $(ARGS)
	$(PY) -m bench.reading $(ARGS)
	$(PY) -m bench.view $(ARGS)

# Whether tests notice when the code is made wrong, in a sample of places of each area.
# make mutate ARGS="--sample 50 --area sync" takes more of one (docs/mutation.md).
mutate: $(READY_DEV)
	$(PY) -m mutation $(ARGS)

format: $(READY_DEV)
	$(PY) -m ruff check --fix .
	$(PY) -m ruff format .

# Resolve and pin what the two .in files ask for.
lock:
	$(PYTHON) -m venv .venv
	$(PY) -m pip install --quiet uv
	.venv/bin/uv pip compile --quiet --no-header --python-version 3.11 --no-emit-index-url \
		requirements.in -o requirements.txt
	.venv/bin/uv pip compile --quiet --no-header --python-version 3.11 --no-emit-index-url \
		requirements-daq.in -o requirements-daq.txt
	.venv/bin/uv pip compile --quiet --no-header --python-version 3.11 --no-emit-index-url \
		requirements-dev.in -o requirements-dev.txt

$(READY): requirements.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "Python 3.11 or newer is needed; name it with: make run PYTHON=python3.11")'
	@echo "Installing what is needed into .venv (once, about a minute) …"
	@$(PYTHON) -m venv .venv
	@$(PY) -m pip install --quiet --disable-pip-version-check -r requirements.txt
	@touch $@

$(READY_DEV): requirements-dev.txt $(READY)
	@echo "Installing what checks and tests need …"
	@$(PY) -m pip install --quiet --disable-pip-version-check -r requirements-dev.txt
	@touch $@

clean:
	rm -rf .venv .mypy_cache .ruff_cache .pytest_cache staticfiles
