# make preview   install into .venv, preview the demo scheme, say where the picture is and how to call layersim
# make open      install into .venv, open the page in the browser; schemes are kept in my-schemes
# make test      install into .venv, run every check
# make check     the checks alone, once installed: the one list that people and CI share
# make coverage  the tests again, slower, and which lines none of them runs; fails below the floor
# make lowest    the tests on every Python found here, and on the lowest versions that pyproject.toml allows
# make site      the pages of docs/ as a site, in out/site; every warning is an error
# make generated files that scripts write          make notebooks  notebooks, run, with what they show
# make pictures  docs/pictures, drawn anew by the commands they show
# make fuzz      100,000 texts and as many pictures with slips in them, memory capped: none may break anything
# make bench     figures and ratios of speed       make validation accuracy, into docs/validation.md

PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
# Small matrices: a second linear algebra thread only gets in the way.
export OPENBLAS_NUM_THREADS ?= 1
# uv installs several times faster; where it cannot be had, pip does the same.
PIP     = $(BIN)/python -m pip install --quiet --disable-pip-version-check
INSTALL = if $(PIP) uv 2>/dev/null; then $(BIN)/uv pip install --quiet --python $(BIN)/python
# What `make lowest` tries. A Python that is not here is named and left out.
PYTHONS ?= 3.11 3.12 3.13 3.14
TESTS   ?= layersim tests

.PHONY: preview open test check coverage lowest site notebooks pictures fuzz bench validation generated clean
.DELETE_ON_ERROR:

preview: $(VENV)/.installed
	@mkdir -p out
	@$(BIN)/layersim preview data/schemes/tide-lamplighters.toml --out out/tide-lamplighters.png --json out/tide-lamplighters.json
	@$(BIN)/layersim --anywhere

open: $(VENV)/.installed
	@mkdir -p my-schemes
	@$(BIN)/layersim open --folder my-schemes

test: $(VENV)/.installed-dev
	@$(MAKE) --no-print-directory check

check:
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/python -m pytest -n auto

coverage: $(VENV)/.installed-dev $(VENV)/.installed-coverage
	$(BIN)/python -m pytest -n auto --cov --cov-report=term-missing:skip-covered

lowest: $(VENV)/.installed-dev
	@$(BIN)/python -m tests.versions $(PYTHONS) -- $(TESTS)

site: $(VENV)/.installed-docs
	@$(BIN)/python -m sphinx --fail-on-warning --keep-going --quiet -b html -c docs/site docs out/site
	@echo "Site: out/site/index.html"

notebooks: $(VENV)/.installed-notebooks
	$(BIN)/python -m data.generate.notebooks

pictures: $(VENV)/.installed-dev
	$(BIN)/python -m data.generate.pictures

fuzz: $(VENV)/.installed-dev
	$(BIN)/python -m tests.fuzz

bench: $(VENV)/.installed-dev
	$(BIN)/python -m tests.bench

validation: $(VENV)/.installed-dev
	$(BIN)/python -m tests.validation

# Everything in data/ and docs/ that a script writes.
generated: $(VENV)/.installed-dev
	$(BIN)/python -m data.generate.colour_table
	$(BIN)/python -m data.generate.chart_table
	$(BIN)/python -m data.generate.metal_table
	$(BIN)/python -m data.generate.starter_paints
	$(BIN)/python -m data.generate.paint_families
	$(BIN)/python -m data.generate.example_swatches
	$(BIN)/python -m data.generate.example_metal
	$(BIN)/python -m data.generate.example_card
	$(BIN)/python -m data.generate.command_reference
	$(BIN)/python -m data.generate.key_reference

$(VENV)/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "layersim needs Python 3.11 or newer"; exit 1; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/.installed: pyproject.toml | $(VENV)/bin/python
	@echo "Installing layersim into $(VENV) ..."
	@$(INSTALL) --editable .; else $(PIP) --editable .; fi
	@touch $@

# .installed-dev, .installed-docs and so on: layersim and what one extra names.
$(VENV)/.installed-%: pyproject.toml | $(VENV)/bin/python
	@echo "Installing layersim and what $* needs into $(VENV) ..."
	@$(INSTALL) --editable '.[$*]'; else $(PIP) --editable '.[$*]'; fi
	@touch $@ $(VENV)/.installed

clean:
	rm -rf $(VENV) out dist .mypy_cache .pytest_cache .ruff_cache .hypothesis
