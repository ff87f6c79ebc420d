# Every recipe uses relative paths and `python -m`, so a folder with a long name or with spaces does as well as any.
.DEFAULT_GOAL := help
.PHONY: help install run test check bench lock fresh

PYTHON := .venv/bin/python
WITH_SERVERS := $(PYTHON) -m studio.embedded
SECRET = $$($(PYTHON) -c "import secrets; print(secrets.token_urlsafe(64))")
HEALTH = $$($(PYTHON) -c "import base64, secrets; print(base64.urlsafe_b64encode(secrets.token_bytes(32)).decode())")

help: ## print this list
	@sed -n 's/^\([a-z]*\): .*## \(.*\)/make \1	\2/p' Makefile

install: ## make or repair .venv from requirements.lock
	@python3 install.py

run: install ## the studio at work until Ctrl-C (DEMO=no: an empty one; PORT=8100: another port)
	@$(WITH_SERVERS) -- $(PYTHON) manage.py serve $(if $(filter no,$(DEMO)),--no-demo) $(if $(PORT),--port $(PORT))

test: ## everything that has to be true, the browser journeys too
	@python3 install.py --browser
	@$(PYTHON) manage.py collectstatic --noinput --verbosity 0
	@$(WITH_SERVERS) --data var/test --disposable -- sh -c '\
	  failed=0; \
	  $(PYTHON) -m pytest -n 2 -m "not browser and not faults" || failed=1; \
	  $(PYTHON) -m pytest -m "browser or faults" || failed=1; \
	  exit $$failed'

check: install ## format, lint, types, import contracts, missing migrations, deploy check
	$(PYTHON) -m ruff format --check .
	$(PYTHON) -m ruff check .
	$(PYTHON) -m mypy .
	$(PYTHON) -c "from importlinter.cli import lint_imports_command as lint; lint()"
	$(PYTHON) manage.py makemigrations --check --dry-run
	@echo "manage.py check --deploy, with throw-away secrets"
	@STUDIO_MODE=production SECRET_KEY="$(SECRET)" HEALTH_KEY="$(HEALTH)" ALLOWED_HOSTS=studio.example \
	  DATABASE_URL=postgres://127.0.0.1/studio REDIS_URL=redis://127.0.0.1/0 EMAIL_URL=smtp://127.0.0.1:25 \
	  $(PYTHON) manage.py check --deploy --fail-level WARNING

bench: install ## the benchmarks, as ratios
	@$(WITH_SERVERS) --data var/bench -- $(PYTHON) -m bench

lock: install ## write requirements.lock from requirements.in
	@$(PYTHON) -m uv --version >/dev/null 2>&1 || $(PYTHON) -m pip install --quiet uv
	@$(PYTHON) -m uv pip compile --quiet --universal --generate-hashes --python-version 3.11 --no-emit-index-url \
	  --no-header requirements.in -o requirements.lock

fresh: install ## forget the embedded database: the next `make run` begins anew
	@$(WITH_SERVERS) --forget
	@rm -f var/demo_logins.json
