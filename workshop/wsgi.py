"""The WSGI entry point of the production server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")

application = get_wsgi_application()

from workshop.web.warming import warm_up  # noqa: E402  it reads the settings

warm_up()
