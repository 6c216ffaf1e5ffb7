# make preview   install into .venv, preview the demo scheme, say where the picture is
# make test      install into .venv, run every check
# make check     the checks alone, once installed: the one list that people and CI share
# make bench     figures and ratios of speed        make validation   accuracy, into docs/validation.md

PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
# Small matrices: a second linear algebra thread only gets in the way.
export OPENBLAS_NUM_THREADS ?= 1
# uv installs several times faster; where it cannot be had, pip does the same.
INSTALL = if $(BIN)/python -m pip install --quiet --disable-pip-version-check uv 2>/dev/null; \
          then $(BIN)/uv pip install --quiet --python $(BIN)/python

.PHONY: preview test check bench validation generated clean
.DELETE_ON_ERROR:

preview: $(VENV)/.installed
	@mkdir -p out
	@$(BIN)/layersim preview data/schemes/tide-lamplighters.toml --out out/tide-lamplighters.png --json out/tide-lamplighters.json

test: $(VENV)/.installed-dev
	@$(MAKE) --no-print-directory check

check:
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/python -m pytest -n auto

bench: $(VENV)/.installed-dev
	$(BIN)/python -m tests.bench

validation: $(VENV)/.installed-dev
	$(BIN)/python -m tests.validation

# Everything in data/ that a script writes.
generated: $(VENV)/.installed-dev
	$(BIN)/python -m data.generate.colour_table
	$(BIN)/python -m data.generate.chart_table
	$(BIN)/python -m data.generate.starter_paints
	$(BIN)/python -m data.generate.paint_families
	$(BIN)/python -m data.generate.example_swatches
	$(BIN)/python -m data.generate.example_card
	$(BIN)/python -m data.generate.key_reference

$(VENV)/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "layersim needs Python 3.11 or newer"; exit 1; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/.installed: pyproject.toml | $(VENV)/bin/python
	@echo "Installing layersim into $(VENV) ..."
	@$(INSTALL) --editable .; else $(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .; fi
	@touch $@

$(VENV)/.installed-dev: pyproject.toml | $(VENV)/bin/python
	@echo "Installing layersim and its checks into $(VENV) ..."
	@$(INSTALL) --editable '.[dev]'; else $(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[dev]'; fi
	@touch $@ $(VENV)/.installed

clean:
	rm -rf $(VENV) out dist .mypy_cache .pytest_cache .ruff_cache .hypothesis
