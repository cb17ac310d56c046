#!/usr/bin/env python3
"""Set up this checkout in a virtual environment of its own and run what was asked for.

    python3 deploy/start.py demo     the demo garden, three questions answered
    python3 deploy/start.py test     rule base, style, types and all tests
    python3 deploy/start.py check    the rule base alone

Needs Python 3.11 or 3.12 and, for the rule engine, a C compiler with the Python headers. Written so that an older
Python can read it far enough to say so.
"""

import os
import shutil
import subprocess
import sys
import sysconfig

TOP = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
WAYS = ("demo", "test", "check")


def stop(line):
    sys.stderr.write(line + "\n")
    sys.exit(2)


def python_fault(version):
    """Return one line on why a Python cannot run the adviser, or "" if it can."""
    if (3, 11) <= tuple(version[:2]) <= (3, 12):
        return ""
    here = "%d.%d" % tuple(version[:2])
    return (
        "This is Python " + here + "; the adviser runs on 3.11 and 3.12. "
        "Install one of them and run: python3.12 deploy/start.py demo"
    )


def compiler_fault(which, header_there):
    """Return one line on what is missing to build the rule engine, or "" if nothing is."""
    if not any(which(name) for name in ("cc", "gcc", "clang")):
        return "No C compiler found; the rule engine is built on install. On Debian: apt-get install gcc python3-dev"
    if not header_there:
        return "Python's C headers are missing; the rule engine needs them. On Debian: apt-get install python3-dev"
    return ""


def venv_fault():
    """Return one line where this Python cannot make virtual environments (Debian ships that part apart)."""
    try:
        import ensurepip  # noqa: F401
        import venv  # noqa: F401
    except ImportError:
        return "This Python cannot make virtual environments. On Debian: apt-get install python3-venv"
    return ""


def headers():
    return os.path.exists(os.path.join(sysconfig.get_paths()["include"], "Python.h"))


def run(command, quiet=False):
    """Run a command; stop with its own words where it fails."""
    if not quiet:
        code = subprocess.call(command, cwd=TOP)
        if code:
            sys.exit(code)
        return
    process = subprocess.Popen(command, cwd=TOP, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    said = process.communicate()[0].decode("utf-8", "replace")
    if process.returncode:
        sys.stderr.write(said)
        stop("Setting up failed at: " + " ".join(command))


def environment(way):
    """Make the virtual environment for a way of running, or bring it up to date, and return its programs' folder."""
    folder = os.path.join(TOP, ".venv-test" if way == "test" else ".venv")
    programs = os.path.join(folder, "Scripts" if os.name == "nt" else "bin")
    python = os.path.join(programs, "python")
    if not os.path.exists(python):
        sys.stderr.write("Setting up " + os.path.basename(folder) + " (once, a minute or two) ...\n")
        run([sys.executable, "-m", "venv", folder], quiet=True)
    wanted = ".[test]" if way == "test" else "."
    run([python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--editable", wanted], quiet=True)
    return programs


def main(arguments):
    if len(arguments) != 1 or arguments[0] not in WAYS:
        stop("Say what to run: python3 deploy/start.py " + "|".join(WAYS))
    way = arguments[0]
    fault = python_fault(sys.version_info)
    fault = fault or venv_fault() or compiler_fault(shutil.which, headers())
    if fault:
        stop(fault)
    programs = environment(way)
    advisor, python = os.path.join(programs, "advisor"), os.path.join(programs, "python")
    if way == "test":
        run([advisor, "check"])
        tests = ["pytest", "-n", "auto", "--dist", "worksteal"]  # on every core
        for tool in (["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"], tests):
            run([python, "-m"] + tool)
    else:
        run([advisor, way])


if __name__ == "__main__":
    main(sys.argv[1:])
