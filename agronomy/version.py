"""The program's version, stored with every figure that is kept, so that an old figure can be told from a new one."""

VERSION = "0.1.0"
