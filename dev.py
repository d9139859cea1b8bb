#!/usr/bin/env python3
"""Set up and run boostproof from a fresh checkout, with nothing but Python (Windows: py dev.py ...).

    python3 dev.py demo               install, diagnose the invented demo car, say where the pages are
    python3 dev.py test [ARGS]        install what the tests need and run them (ARGS go to pytest)
    python3 dev.py lint               ruff
    python3 dev.py types              mypy
    python3 dev.py layers             which package may import which
    python3 dev.py bench [ARGS]       benchmarks (--smoke: a quick look, --json: for programs)
    python3 dev.py practice [ARGS]    the practice cases, scored
    python3 dev.py evaluate [ARGS]    cars whose fault is known, scored (--tier ci|issue|release, --write)
    python3 dev.py lock [--upgrade]   write the locks anew; --check: prove that they can be installed
    python3 dev.py all                lint, types, layers, test, quick benchmarks

Everything is installed into one folder of its own (.venv here, or where BOOSTPROOF_VENV points),
pinned and checked by hash. The network is needed once. The text keeps to Python 3.8 so that an old
interpreter can still say what is missing.
"""

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import venv
from pathlib import Path
from typing import Dict, List, Optional, Sequence

ROOT = Path(__file__).resolve().parent
OLDEST, NEWEST = (3, 11), (3, 14)  # the Pythons for which every locked package has a wheel
LOCKS = {"demo": "requirements.txt", "test": "requirements-test.txt"}
UV_LOCK = "requirements-uv.txt"
OURS = "made-by-dev.py"  # in a folder that we made and may delete
STAMP = "set-up.json"  # written last: its absence means that the set-up was interrupted
COMMANDS = ("demo", "test", "lint", "types", "layers", "bench", "practice", "evaluate", "lock", "all")
# Systems on which the locks must install, beside the one at hand.
PLATFORMS = (
    "x86_64-unknown-linux-gnu",
    "aarch64-unknown-linux-gnu",
    "x86_64-pc-windows-msvc",
    "aarch64-apple-darwin",
    "x86_64-apple-darwin",
)
# What pip and uv say when they cannot reach the package index.
OFFLINE = re.compile(
    r"NewConnectionError|NameResolutionError|Failed to resolve|name resolution|ConnectTimeout|dns error"
    r"|Network is unreachable|timed out|Connection (refused|reset)|connect error|error sending request"
    r"|client error \(Connect\)|No route to host",
    re.IGNORECASE,
)


class SetUpError(Exception):
    """The set-up cannot go on; the message says why and what to do."""


def say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


# -- Python ---------------------------------------------------------------------------------------


def usable(version: Sequence[int]) -> bool:
    return OLDEST <= tuple(version[:2]) <= NEWEST


def version_of(command: List[str]) -> Optional[List[int]]:
    """The version of another interpreter, or None if it does not run."""
    code = "import sys; print(*sys.version_info[:3])"
    try:
        out = subprocess.run(
            [*command, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, timeout=30, check=True
        )
        return [int(part) for part in out.stdout.split()]
    except (OSError, ValueError, subprocess.SubprocessError):
        return None


def find_python() -> List[str]:
    """The command of an interpreter that can run boostproof: this one if it will do."""
    inside_ours = (Path(sys.prefix) / OURS).exists()  # never build a folder from within itself
    if usable(sys.version_info[:2]) and not inside_ours:
        return [sys.executable]
    candidates = [[getattr(sys, "_base_executable", None) or sys.executable]] if inside_ours else []
    for minor in range(NEWEST[1], OLDEST[1] - 1, -1):
        candidates.append(["py", "-3.%d" % minor] if os.name == "nt" else ["python3.%d" % minor])
    for command in candidates:
        version = version_of(command)
        if version and usable(version):
            return command
    raise SetUpError(
        "This is Python %d.%d, and no Python %d.%d to %d.%d was found. Install one (a Linux: "
        "'apt install python3.12 python3.12-venv' or the like; Windows and Mac: the installer from the "
        "Python project), then run the same command again."
        % (sys.version_info[0], sys.version_info[1], *OLDEST, *NEWEST)
    )


# -- the folder with everything installed ----------------------------------------------------------


def environment_folder() -> Path:
    """Where the packages go; never a folder that somebody else made."""
    if os.environ.get("BOOSTPROOF_VENV"):
        folder = Path(os.environ["BOOSTPROOF_VENV"]).resolve()
        if folder.exists() and any(folder.iterdir()) and not (folder / OURS).exists():
            raise SetUpError("%s was not made by dev.py. Point BOOSTPROOF_VENV at a new folder." % folder)
        return folder
    folder = ROOT / ".venv"
    foreign = folder.exists() and not (folder / OURS).exists()
    return ROOT / ".venv-boostproof" if foreign else folder


def script(folder: Path, name: str) -> str:
    """The path of a program installed in the folder."""
    return str(folder / "Scripts" / (name + ".exe") if os.name == "nt" else folder / "bin" / name)


def child_environment(folder: Path) -> Dict[str, str]:
    """The variables for every program that we start."""
    env = dict(os.environ)
    for name in ("PYTHONHOME", "PYTHONPATH", "VIRTUAL_ENV", "CONDA_PREFIX"):
        env.pop(name, None)  # another environment's packages must not be seen
    env["VIRTUAL_ENV"] = str(folder)
    env["PYTHONUTF8"] = "1"
    env["PIP_DISABLE_PIP_VERSION_CHECK"] = "1"
    env["PIP_REQUIRE_VIRTUALENV"] = "0"
    env["UV_LINK_MODE"] = "copy"  # a hard link out of the cache would break when the cache is cleaned
    env["UV_PYTHON_DOWNLOADS"] = "never"
    # uv does not read pip's settings; a shop behind a mirror or its own certificates has those.
    if "PIP_INDEX_URL" in env:
        env.setdefault("UV_DEFAULT_INDEX", env["PIP_INDEX_URL"])
    if "PIP_CERT" in env:
        env.setdefault("SSL_CERT_FILE", env["PIP_CERT"])
    env.setdefault("BOOSTPROOF_CACHE", str(folder / "k"))  # short, for Windows' path limit; not in the home
    return env


def digest(*names: str) -> str:
    """A hash over files of the checkout, indifferent to how lines end."""
    total = hashlib.sha256()
    for name in names:
        path = ROOT / name
        if not path.is_file():
            raise SetUpError("%s is missing from %s: check the project out again." % (name, ROOT))
        total.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return total.hexdigest()


def read_stamp(folder: Path) -> Dict[str, str]:
    try:
        stamp = json.loads((folder / STAMP).read_text(encoding="utf-8"))
        return stamp if isinstance(stamp, dict) else {}
    except (OSError, ValueError):
        return {}


def write_stamp(folder: Path, stamp: Dict[str, str]) -> None:
    """Whole or not at all, so that no half-written stamp vouches for a half-made folder."""
    draft = folder / (STAMP + ".new")
    draft.write_text(json.dumps(stamp, indent=1), encoding="utf-8")
    os.replace(str(draft), str(folder / STAMP))


def set_up(folder: Path, kind: str) -> None:
    """Make the folder hold what the locks say, for ``demo`` or for ``test``; quick when it does."""
    identity = "%s %s" % (".".join(map(str, sys.version_info[:3])), folder)
    stamp = read_stamp(folder)
    if stamp.get("identity") != identity or stamp.get("demo") not in (None, digest(LOCKS["demo"])):
        stamp = {}
    if kind == "test" and stamp.get("test") not in (None, digest(LOCKS["test"])):
        stamp = {}
    if not stamp:
        make_folder(folder)
        stamp = {"identity": identity}
    satisfied = [kind, "test"] if kind == "demo" else [kind]  # what the tests need includes the rest
    if not any(stamp.get(name) == digest(LOCKS[name]) for name in satisfied):
        say("Installing %s (once; a minute or so) ..." % LOCKS[kind])
        (folder / STAMP).unlink() if (folder / STAMP).exists() else None
        install(folder, ["--require-hashes", "--only-binary", ":all:", "-r", str(ROOT / LOCKS[kind])])
        stamp[kind] = digest(LOCKS[kind])
        stamp.pop("project", None)
    if stamp.get("project") != digest("pyproject.toml"):
        install(folder, ["--no-deps", "--no-build-isolation", "-e", str(ROOT)])
        stamp["project"] = digest("pyproject.toml")
        write_stamp(folder, stamp)


def make_folder(folder: Path) -> None:
    """A new, empty environment with pip and, where it can be had, uv."""
    if folder.exists():
        say("Starting %s afresh (the locks or Python changed, or a set-up was interrupted)." % folder.name)
        try:
            shutil.rmtree(str(folder))
        except OSError as error:
            raise SetUpError(
                "%s cannot be removed (%s). Close what uses it and try again." % (folder, error)
            ) from error
    folder.mkdir(parents=True)
    (folder / OURS).write_text("dev.py made this folder and may delete it at any time.\n", encoding="utf-8")
    try:
        venv.EnvBuilder(with_pip=True, symlinks=os.name != "nt").create(str(folder))
    except (subprocess.CalledProcessError, OSError) as error:
        raise SetUpError(
            "Python could not make its environment (%s). On Debian and its kin the piece is a package of "
            "its own: 'apt install python3-venv'. Then run the same command again." % error
        ) from error
    pip = [script(folder, "python"), "-m", "pip", "install", "--quiet", "--only-binary", ":all:"]
    quiet_run([*pip, "--require-hashes", "-r", str(ROOT / UV_LOCK)], folder)  # failing: plain pip serves


def quiet_run(command: List[str], folder: Path) -> "subprocess.CompletedProcess[str]":
    """Run a program and keep what it says."""
    return subprocess.run(
        command,
        cwd=str(ROOT),
        env=child_environment(folder),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
        check=False,
    )


def install(folder: Path, what: List[str]) -> None:
    """Install with uv; where uv is not to be had or fails, with pip, which is slower and does the same."""
    python, uv = script(folder, "python"), script(folder, "uv")
    if Path(uv).exists():
        done = quiet_run([uv, "pip", "install", "--quiet", "--no-config", "--python", python, *what], folder)
        if done.returncode == 0:
            return
        say("uv did not manage it; trying again with pip, which takes longer.")
    done = quiet_run([python, "-m", "pip", "install", "--quiet", *what], folder)
    if done.returncode == 0:
        return
    if OFFLINE.search(done.stdout):
        raise SetUpError(
            "The packages could not be fetched: this machine seems to be offline. They are needed once; "
            "connect it and run the same command again, afterwards no network is needed."
        )
    say(done.stdout.strip())
    if "DO NOT MATCH THE HASHES" in done.stdout:
        raise SetUpError(
            "A package that came is not the one that the lock names (see above), so nothing was installed. "
            "A proxy or mirror may have changed it; if not, report it."
        )
    raise SetUpError("The packages could not be installed; what pip said stands above.")


# -- commands -------------------------------------------------------------------------------------


def run(folder: Path, *command: str) -> int:
    """Run a program in the checkout and pass its exit code on; Ctrl-C is the program's to answer."""
    sys.stdout.flush()
    process = subprocess.Popen([*command], cwd=str(ROOT), env=child_environment(folder))
    while True:
        try:
            return process.wait()
        except KeyboardInterrupt:
            continue


def python(folder: Path, *arguments: str) -> int:
    return run(folder, script(folder, "python"), *arguments)


def perform(folder: Path, command: str, arguments: List[str]) -> int:
    """Do one command; its exit code."""
    if command == "lock":
        return check_locks(folder) if "--check" in arguments else write_locks(folder, arguments)
    set_up(folder, "demo" if command == "demo" else "test")
    if command == "demo":
        return run(folder, script(folder, "boostproof"), "demo", *arguments)
    if command == "test":
        return python(folder, "-m", "pytest", *arguments)
    if command == "lint":
        return run(folder, script(folder, "ruff"), "check", *(arguments or ["."]))
    if command == "types":
        return python(folder, "-m", "mypy", *arguments)
    if command == "layers":
        return run(folder, script(folder, "lint-imports"), *arguments)
    if command == "bench":
        return python(folder, "-m", "benchmarks", *arguments)
    if command == "practice":
        return python(folder, "-m", "practice", *arguments)
    if command == "evaluate":
        return python(folder, "-m", "evaluation", *arguments)
    failed = [step for step in ("lint", "types", "layers", "test") if perform(folder, step, [])]
    failed += ["bench"] if perform(folder, "bench", ["--smoke"]) else []
    say("Failed: %s." % ", ".join(failed) if failed else "All passed.")
    return 1 if failed else 0


# -- locks ----------------------------------------------------------------------------------------


def uv_for_locks(folder: Path) -> str:
    """The uv of the folder; the locks can be made by nothing else."""
    if not Path(script(folder, "uv")).exists():
        make_folder(folder)
    if not Path(script(folder, "uv")).exists():
        # The lock of uv itself may be what is out of date.
        install(folder, [*bootstrap_requirements()])
    return script(folder, "uv")


def bootstrap_requirements() -> List[str]:
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    found = re.search(r'^bootstrap = \["([^"]+)"\]', text, re.MULTILINE)
    if not found:
        raise SetUpError("pyproject.toml has no line 'bootstrap = [\"uv==...\"]' in [dependency-groups].")
    return [found.group(1)]


def write_locks(folder: Path, arguments: List[str]) -> int:
    """All locks, for every system and Python at once, with hashes and without any address."""
    uv = uv_for_locks(folder)
    compile_ = [uv, "pip", "compile", "--quiet", "--no-config", "--universal", "--generate-hashes"]
    compile_ += ["--no-header", "--no-annotate", "--python-version", "%d.%d" % OLDEST, *arguments]
    demo, test = LOCKS["demo"], LOCKS["test"]
    plans = [
        [*compile_, "--group", "pyproject.toml:bootstrap", "-o", UV_LOCK],
        [*compile_, "pyproject.toml", "--group", "build", "-o", demo],
        # The same versions with the tests as without: one folder serves both.
        [*compile_, "pyproject.toml", "--extra", "test", "--group", "build", "-c", demo, "-o", test],
    ]
    env = child_environment(folder)
    for name in [name for name in env if name.startswith("UV_") and ("INDEX" in name or "LINKS" in name)]:
        del env[name]
    for plan in plans:
        code = subprocess.call(plan, cwd=str(ROOT), env=env)
        if code:
            return code
    return addresses_in_locks()


def addresses_in_locks() -> int:
    """No lock may name an address, an index or a path: it must hold on every machine."""
    bad = 0
    for name in (UV_LOCK, *LOCKS.values()):
        for number, line in enumerate((ROOT / name).read_text(encoding="utf-8").splitlines(), 1):
            if re.search(r"://|--index|--extra-index|--find-links|^-[eif] | @ |^[./]", line):
                say("%s:%d names a place: %s" % (name, number, line.strip()))
                bad = 1
    return bad


def check_locks(folder: Path) -> int:
    """Every lock can be installed from wheels alone on every system and Python that we name."""
    set_up(folder, "test")
    uv, bad = script(folder, "uv"), addresses_in_locks()
    for platform in PLATFORMS:
        for minor in (OLDEST[1], NEWEST[1]):
            command = [uv, "pip", "install", "--quiet", "--no-config", "--dry-run", "--require-hashes"]
            command += ["--only-binary", ":all:", "--python-platform", platform]
            command += ["--python-version", "3.%d" % minor, "--target", str(folder / "nowhere")]
            done = quiet_run([*command, "-r", str(ROOT / LOCKS["test"])], folder)
            say("%-26s Python 3.%d  %s" % (platform, minor, "ok" if done.returncode == 0 else "FAILED"))
            if done.returncode:
                say(done.stdout.strip())
                bad = 1
    return bad


def main(arguments: List[str]) -> int:
    if not arguments or arguments[0] in ("-h", "--help", "help"):
        print(__doc__)
        return 0 if arguments else 2
    if arguments[0] not in COMMANDS:
        say("dev.py has no command '%s'. It has: %s." % (arguments[0], ", ".join(COMMANDS)))
        return 2
    try:
        chosen = find_python()
        if chosen != [sys.executable]:
            return subprocess.call([*chosen, str(ROOT / "dev.py"), *arguments])
        return perform(environment_folder(), arguments[0], arguments[1:])
    except SetUpError as error:
        say("dev.py: %s" % error)
        return 1
    except KeyboardInterrupt:
        say("dev.py: interrupted. Run the same command again; it starts clean.")
        return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
