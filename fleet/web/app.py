"""How do the pages come together into one application?"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from itertools import chain

from flask import Flask, request
from jinja2 import StrictUndefined

from fleet.web import answers, api, refusals
from fleet.web.guard import let_in
from fleet.web.hosts import refuse_other_names
from fleet.web.pages import ALL
from fleet.web.routes import Operations, Pages, Route
from fleet.web.site import WebSite
from fleet.web.static_files import asset_path, static_file, worker_file
from fleet.web.words import FILTERS

__all__ = ["make_app", "routes"]

_MOST_BYTES = 12 * 1024 * 1024
"""Of one request; a chart's scan or a service report is smaller."""


def routes() -> dict[str, Route]:
    """Every page, and all that programs may ask, by its endpoint."""
    both: Iterable[Pages | Operations] = chain(ALL, api.ALL)
    return {route.name: route for pages in both for route in pages.routes}


def make_app(web: WebSite) -> Flask:
    """The pages of one process as a WSGI application."""
    app = Flask("fleet.web", static_folder=None, template_folder="templates")
    app.config["MAX_CONTENT_LENGTH"] = app.config["MAX_FORM_MEMORY_SIZE"] = _MOST_BYTES
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.filters.update(FILTERS)
    app.jinja_env.globals["asset"] = asset_path
    known = routes()
    for route in known.values():
        app.add_url_rule(
            route.rule,
            route.name,
            route.view,
            methods=route.methods,
            # Nothing of the API is answered in another form than JSON, not even emptily.
            provide_automatic_options=not route.is_api,
        )
    app.add_url_rule("/static/<name>", "static_file", static_file)
    app.add_url_rule("/worker.js", "worker_file", worker_file)
    app.before_request(partial(refuse_other_names, web.names))
    app.before_request(partial(let_in, web, known))
    app.after_request(answers.finished)
    app.teardown_request(_close_files)
    refusals.install(app)
    return app


def _close_files(_: BaseException | None) -> None:
    """Let go of what a form sent along."""
    request.close()
