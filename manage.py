#!/usr/bin/env python3
"""The shop's command line. The first start sets up .venv beside this file; later starts go straight on."""

import os
import sys

from workshop.bootstrap import enter_environment, stop
from workshop.demo.environment import prepare_environment
from workshop.starting import settings_problem


def main() -> None:
    enter_environment(sys.argv)
    prepare_environment(sys.argv)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
    problem = settings_problem()
    if problem:
        stop(problem)
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
