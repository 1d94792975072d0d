# What the system itself must bring: Python, Pango and fonts; a browser and PDF tools for the tests.

say() { printf '%s\n' "$*"; }

stop() {
    printf '%s\n' "$*" >&2
    exit 1
}

# Sets $python to the first Python that is new enough.
find_python() {
    local candidate
    for candidate in python3 python3.14 python3.13 python3.12 python3.11; do
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            python=$candidate
            return
        fi
    done
    stop "Shedbook needs Python 3.11 or newer, and this machine has $(python3 -V 2>/dev/null || echo none): install it (Debian 12 and Ubuntu 24.04 bring it as python3), then run the same again."
}

# Prints the Debian packages without which the application cannot run here.
missing_for_running() {
    "$1" - <<'PYTHON'
import ctypes
import sys
from importlib.util import find_spec
from pathlib import Path

libraries = {
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libharfbuzz.so.0": "libharfbuzz0b",
    "libharfbuzz-subset.so.0": "libharfbuzz-subset0",
    "libfontconfig.so.1": "libfontconfig1",
}
if find_spec("ensurepip") is None:
    print("python%d.%d-venv" % sys.version_info[:2])
for library, package in libraries.items():
    try:
        ctypes.CDLL(library)
    except OSError:
        print(package)
folders = [Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), Path.home() / ".local/share/fonts"]
if not any(True for folder in folders for _ in folder.rglob("*.[ot]tf")):
    print("fonts-dejavu-core")
PYTHON
}

# Prints the Debian packages without which the tests cannot run here.
missing_for_testing() {
    has chromium || echo chromium
    has pdfsig && has pdftotext && has pdftoppm || echo poppler-utils
    has qpdf || echo qpdf
    # what drives the browser is linked against it
    .venv/bin/python -c 'import ctypes; ctypes.CDLL("libatomic.so.1")' 2>/dev/null || echo libatomic1
}

has() { command -v "$1" >/dev/null; }

install_missing() {
    local packages
    mapfile -t packages < <(printf '%s' "$1")
    [ ${#packages[@]} -gt 0 ] || return 0
    if ! has apt-get; then
        stop "This machine lacks what Debian calls ${packages[*]}: install these with its own package manager, then run the same again."
    elif ! may_install; then
        stop "This machine lacks some packages that only root may add: have 'apt-get install ${packages[*]}' run as root, then run the same again."
    fi
    say "Installing from the system's packages: ${packages[*]}."
    apt install "${packages[@]}" || { apt update && apt install "${packages[@]}"; } || {
        tail -n 5 .cache/setup.log >&2
        stop "The system's packages ${packages[*]} could not be installed (lines above): install them by hand, then run the same again."
    }
}

may_install() { [ "$(id -u)" = 0 ] || sudo -n true 2>/dev/null; }

apt() {
    local command=(env DEBIAN_FRONTEND=noninteractive apt-get -qq --yes "$1" --no-install-recommends "${@:2}")
    [ "$(id -u)" = 0 ] || command=(sudo -n "${command[@]}")
    "${command[@]}" >>.cache/setup.log 2>&1 </dev/null
}
