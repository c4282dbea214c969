"""The door for the web server."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

from lumenward.records import environment

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lumenward.records.settings")
environment.prepare(environment.home())
application = get_wsgi_application()
