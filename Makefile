# stilltaut: everything a fresh machine needs is Python 3.11, make and a package registry.
PYTHON ?= python3
VENV   ?= .venv
SERVE  ?= 1
DATA   ?= demo-data
BIN    := $(VENV)/bin
PYTEST := $(BIN)/pytest -n 2 --dist loadfile --no-loadscope-reorder -q --durations=20
# Tests that know of their bucket, or of no store, gain nothing from lying in one.
IN_A_BUCKET := tests/storage tests/register tests/notices $(foreach one,killed_while_adding killed_while_restoring house_in_a_bucket objects register where_compiled_code_is_kept,--ignore tests/storage/test_$(one).py)
export PIP_DISABLE_PIP_VERSION_CHECK = 1

.PHONY: demo test test-long check bench pictures messages clean

demo: $(VENV)/.installed
	$(BIN)/stilltaut demo --data $(DATA) $(if $(filter 0,$(SERVE)),--no-serve)

test: check
	$(PYTEST) -m "not long and not browser"
	@echo "Every test passed but whole scenarios, simulations and walks in a browser: make test-long."

test-long: $(VENV)/.installed-dev
	$(PYTEST) -m "long or browser"
	KEPT_IN=bucket $(PYTEST) -m "not long and not browser" $(IN_A_BUCKET)

check: $(VENV)/.installed-dev
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	PYTHONPATH=tests $(BIN)/python -m bench.audit constraints.txt

bench: $(VENV)/.installed-dev
	PYTHONPATH=tests $(BIN)/python -m bench

pictures: $(VENV)/.installed-dev
	PYTHONPATH=tests $(BIN)/python -m bench.pictures

# Every message of the program, for a translator; what is translated stands in
# dashboards/text/languages/LANGUAGE.po, which the program reads as it is.
messages: $(VENV)/.installed-dev
	mkdir -p build
	$(BIN)/python -m babel.messages.frontend -q extract -F pyproject.toml -k _ -k N_ -k counted:1,2 --project stilltaut -o build/stilltaut.pot analysis dashboards service

$(VENV)/.installed: pyproject.toml constraints.txt
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install -q -c constraints.txt -e .
	touch $@

$(VENV)/.installed-dev: pyproject.toml constraints.txt
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install -q -c constraints.txt -e ".[dev]"
	touch $(VENV)/.installed $@

clean:
	rm -rf $(VENV) .wheel-venv demo-data dist build .mypy_cache .ruff_cache .pytest_cache .hypothesis
