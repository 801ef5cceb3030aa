"""The version, where every floor can name it."""

VERSION = "0.6.0"
