"""The WSGI entry point of the production server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")

application = get_wsgi_application()

from workshop.running.hung_database import give_up_on_a_hung_database  # noqa: E402  it reads the settings
from workshop.web.warming import warm_up  # noqa: E402  so does it

give_up_on_a_hung_database()
warm_up()
