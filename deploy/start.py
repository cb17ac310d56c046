#!/usr/bin/env python3
"""Set up this checkout in a virtual environment of its own and run what was asked for.

    python3 deploy/start.py demo     the demo garden, three questions answered
    python3 deploy/start.py test     rule base, style, types and all tests
    python3 deploy/start.py check    the rule base alone

Needs Python 3.11 to 3.13. The rule engine that comes first is built on install, on 3.11 and 3.12 with a C compiler and
the Python headers; without them, and on 3.13, the other one is used, which comes built. Written so that an older Python
can read it far enough to say what it lacks.
"""

import os
import shutil
import subprocess
import sys
import sysconfig

TOP = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
WAYS = ("demo", "test", "check")
BUILT = "durable-rules"


def stop(line):
    sys.stderr.write(line + "\n")
    sys.exit(2)


def python_fault(version):
    """Return one line on why a Python cannot run the adviser, or "" if it can."""
    if (3, 11) <= tuple(version[:2]) <= (3, 13):
        return ""
    here = "%d.%d" % tuple(version[:2])
    return (
        "This is Python " + here + "; the adviser runs on 3.11 to 3.13. "
        "Install one of them and run: python3.12 deploy/start.py demo"
    )


def cannot_build(version, which, header_there):
    """Return one line on why the first rule engine cannot be built here, or "" if it can or need not be."""
    if tuple(version[:2]) >= (3, 13):
        return ""  # pyproject.toml asks for the other alone
    if not any(which(name) for name in ("cc", "gcc", "clang")):
        lack = "No C compiler found"
    elif not header_there:
        lack = "Python's C headers are missing"
    else:
        return ""
    return (
        lack
        + ", so the rule engine that comes built is used alone. For both, on Debian: apt-get install gcc python3-dev"
    )


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
    folder = os.path.join(TOP, ".venv-test-%d.%d" % tuple(sys.version_info[:2]) if way == "test" else ".venv")
    programs = os.path.join(folder, "Scripts" if os.name == "nt" else "bin")
    python = os.path.join(programs, "python")
    if not os.path.exists(python):
        sys.stderr.write("Setting up " + os.path.basename(folder) + " (once, a minute or two) ...\n")
        run([sys.executable, "-m", "venv", folder], quiet=True)
    install = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    lack = cannot_build(sys.version_info, shutil.which, headers())
    if lack:
        sys.stderr.write(lack + "\n")
        run(install + packages(way, without=BUILT), quiet=True)
    wanted = ".[test]" if way == "test" else "."
    run(install + (["--no-deps"] if lack else []) + ["--editable", wanted], quiet=True)
    return programs


def packages(way, without):
    """Return the packages that pyproject.toml asks for, but one."""
    import tomllib  # not there in a Python that is told to go away

    with open(os.path.join(TOP, "pyproject.toml"), "rb") as file:
        project = tomllib.load(file)["project"]
    wanted = project["dependencies"] + (project["optional-dependencies"]["test"] if way == "test" else [])
    return [one for one in wanted if not one.startswith(without)]


def main(arguments):
    if len(arguments) != 1 or arguments[0] not in WAYS:
        stop("Say what to run: python3 deploy/start.py " + "|".join(WAYS))
    way = arguments[0]
    fault = python_fault(sys.version_info) or venv_fault()
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
