"""The application as a web server calls it."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

from config.environment import read
from config.secret import keep_key
from config.serving.orphans import end_with_starter

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
end_with_starter()
_environment = read()
if not _environment.secret_key:
    # All workers must sign with one key, so one is kept before the settings look for it.
    keep_key(_environment.data)

application = get_wsgi_application()
