#!/usr/bin/env python3
"""The shop's command line. The first start sets up .venv beside this file; later starts go straight on."""

import os
import sys

from workshop.bootstrap import enter_environment, python_problem, stop
from workshop.demo.environment import prepare_environment
from workshop.starting import settings_problem


def main() -> None:
    if sys.argv[1:2] in (["install_service"], ["as_service"]):  # before anything is made beside this code
        problem = python_problem(sys.version_info[:2])
        if problem:
            stop(problem)
        from workshop.service.main import as_service, install_service

        if sys.argv[1] == "as_service":
            as_service(sys.argv[2:])
        sys.exit(install_service(sys.argv[2:]))
    enter_environment(sys.argv)
    prepare_environment(sys.argv)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
    problem = settings_problem()
    if problem:
        stop(problem)
    from workshop.management.helping import ShopUtility

    ShopUtility(sys.argv).execute()


if __name__ == "__main__":
    main()
