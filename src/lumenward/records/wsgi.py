"""The door for the web server."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

from lumenward.calculations.diagnose import keep_tables_in
from lumenward.records import environment

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lumenward.records.settings")
environment.prepare(environment.home())
keep_tables_in(environment.home() / "tables")
application = get_wsgi_application()
