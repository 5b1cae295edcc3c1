"""The roof of the house: settings, addresses, sign-in, health, checks, and the commands that span all apps."""

VERSION = "0.1.0"
