# Developer commands of Eke. `make` or `make help` lists them. Everything a command needs is set up by it.
PYTHON ?= python3
VENV ?= .venv
ifeq ($(OS),Windows_NT)
BIN := $(VENV)/Scripts
else
BIN := $(VENV)/bin
endif
PY := $(BIN)/python
STAMP := $(VENV)/.set-up
OUT ?= demo-out

.DEFAULT_GOAL := help
.PHONY: help setup app browser demo test test-slow explore check format docs pictures wheel bench clean figures golden

help: ## list the commands
	@grep -E '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 14

$(STAMP): pyproject.toml tools/setup_env.py
	$(PYTHON) tools/setup_env.py $(VENV)
	@touch $(STAMP)

setup: $(STAMP) ## make the virtual environment and compile the program and its kernels once
	@$(PY) -m compileall -q src/eke
	@$(PY) -m eke.lay.warm

app: $(STAMP) ## build the app's pages where their sources have changed
	@$(PY) tools/build_app.py

browser: $(STAMP)
	@$(PY) tools/setup_browser.py

demo: setup app ## the whole job from photographs to ledger, under demo-out/; opens the app on it (NO_OPEN=1: does not)
	$(PY) -m demo --out $(OUT) $(if $(NO_OPEN),--no-open,)

test: setup app browser ## all fast tests
	$(PY) tools/build_app.py run test --silent
	$(PY) -m pytest -n 2 --dist worksteal -m "not slow" -rs

test-slow: setup app browser ## the slow tests, those in the browser among them
	$(PY) -m pytest -n 2 --dist worksteal -m slow -rs

explore: setup ## the property tests with other examples than the gate's, and many more of them
	EKE_HYPOTHESIS=explore $(PY) -m pytest -n 2 --dist worksteal -m "hypothesis and not slow" -q

check: setup app ## lint, formatting, types, import rings, licences, generated pages and files
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(PY) tools/check_licences.py
	$(PY) tools/make_reference.py --check
	$(PY) tools/make_client.py --check
	$(PY) tools/make_goldens.py --check
	$(PY) tools/build_app.py run check --silent

format: setup ## put the code into its format
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

docs: setup ## write the generated reference pages and the front end's types anew
	$(PY) tools/make_reference.py
	$(PY) tools/make_client.py

pictures: setup app browser ## take the pictures of the docs anew, from the demo's workroom
	$(PY) tools/make_pictures.py

figures: setup ## draw the figures of the explanation of the lay anew
	$(PY) tools/make_figures.py

golden: setup ## write the golden files anew; look at every difference before committing
	$(PY) tools/make_goldens.py
	EKE_GOLDEN=write $(PY) -m pytest -q -m "not slow" tests

wheel: setup app ## a wheel that carries everything, in dist/
	$(PY) -m build --wheel --sdist --no-isolation --outdir dist .

bench: setup ## benchmarks against peers and known truth (BENCH="lay fit": only those)
	$(PY) -m pip install --quiet -e ".[peers]"
	$(PY) -m bench $(BENCH)

clean: ## remove what can be made anew
	$(PYTHON) -c "import shutil; [shutil.rmtree(p, True) for p in ('build', 'dist', '$(OUT)', '.mypy_cache', '.ruff_cache', '.pytest_cache', '.hypothesis', '$(VENV)')]"
