# Each word below does all of its own set-up first: see .setup/prepare.
HOST ?= 127.0.0.1
PORT ?= 8000
WORKERS ?= 2
ARGS ?=
BIN := .venv/bin

.DEFAULT_GOAL := help
.PHONY: help demo serve test lint bench soak pins pictures

help: ## say what each word does
	@sed -n 's/^\([a-z]*\): ## \(.*\)/make \1 - \2/p' Makefile

demo: ## set up, load the demo season and serve it on http://127.0.0.1:8000 (HOST=, PORT= change that)
	@.setup/prepare run
	@exec $(BIN)/shedbook demo --host $(HOST) --port $(PORT)

serve: ## set up and serve your own logbook, empty at first; `.venv/bin/shedbook add-person` makes the first administrator
	@.setup/prepare run
	@exec $(BIN)/shedbook serve --host $(HOST) --port $(PORT)

test: ## set up and run every test (WORKERS=2 side by side; ARGS= is passed to pytest)
	@.setup/prepare test
	@exec $(BIN)/python -m pytest -n $(WORKERS) --dist loadfile --no-loadscope-reorder $(ARGS)

lint: ## check style, formatting, types and who may import whom
	@.setup/prepare check
	@ended=0; for check in "ruff check" "ruff format --check" mypy lint-imports; do \
		echo "$$check"; $(BIN)/$$check || ended=1; \
	done; exit $$ended

bench: ## measure times and print them
	@.setup/prepare check
	@exec $(BIN)/python -m pytest -o python_files='bench_*.py' -s tests/bench $(ARGS)

soak: ## run the long drills at full length
	@.setup/prepare test
	@exec env SHEDBOOK_SOAK=1 $(BIN)/python -m pytest -o python_files='test_*.py bench_*.py' -m soak -s $(ARGS)

pictures: ## make the README's pictures anew from a demo that is being served (HOST=, PORT=)
	@.setup/prepare test
	@$(BIN)/python .setup/pictures http://$(HOST):$(PORT)

pins: ## write requirements.txt anew from pyproject.toml
	@.setup/pin
