#!/usr/bin/env python
"""Sweetground's commands: `manage.py help` lists them."""

import os
import sys

from django.core.management import execute_from_command_line

from config.environment import SettingsError, read


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    try:
        read()
    except SettingsError as error:
        sys.exit(f"The settings are wrong:\n{error}")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
