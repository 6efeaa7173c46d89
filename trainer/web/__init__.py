"""The web page, on which a learner listens, writes a chart and sees the result.

A request comes through `guard` (only this machine, only this page) to the application (`app`),
which hands it to the route of its address. A route takes a `Context`: the store, the sounds, the
course and the learner of the browser's cookie. A learner who was not shown the hearing caution is
led to it first. `trainer.drill` decides what a drill is, how it is graded and what comes next; a
route calls it, and a template shows what the route gets. No GET stores anything. On the server of a
class the learner is the one who is signed in, and every route says who may ask for it.

==================  ========================================================================
module              holds
==================  ========================================================================
`app`               the application; errors as pages
`context`           what every route works with; the templates
`learner_cookie`    which learner a browser has chosen
`start`             the hearing caution and the start page
`song_codes`        a song given to a friend, and a friend's song begun
`today`             the daily sets
`write`             the page to write on, its preview, listens, drafts and handing in
`result`            the graded chart, to see, to hear and to print
`speed`             the speed self-test
`history`           all attempts
`progress`          skills and practice over time
`learners`          who practises here, exports and backups
`formatting`        shares, days and times as people read them
`downloads`         JSON and CSV as files
`views`             sheets, plots and the rows of pages as values for the templates
`audio`             sounds over HTTP
`classroom`         signing in, accounts and classes, on the server of a class alone
`packed`            scripts and styles as they are sent
`guard`, `serving`  who may ask, and the server on this machine
`private`           files that only their owner may read
==================  ========================================================================

The scripts are small modules without a build step (`static`): `write.js` and `result.js` drive
their pages, the others are their parts. While a text is typed, a request for its sheet names the
lines that the page shows, and the answer has only those that changed (`sheet_patch.js`).

Importing this room loads nothing heavy; FastAPI is loaded when `create_app` is first asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.web.app import create_app

__all__ = ["create_app"]

_HOMES = {"create_app": "app"}


def __getattr__(name: str) -> Any:
    """Load a public name from its module on first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
