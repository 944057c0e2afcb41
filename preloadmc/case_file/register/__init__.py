"""A register of joints: many rows that change template cases, each judged on its own."""

from preloadmc.case_file.register.rows import (
    Register,
    RegisterRow,
    load_register,
    register_of_cases,
)
from preloadmc.case_file.register.template import Template

__all__ = ["Register", "RegisterRow", "Template", "load_register", "register_of_cases"]
