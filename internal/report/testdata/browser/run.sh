#!/bin/sh
# Checks the pages of this program in a real browser: sh run.sh [PAGE.html...]
# Installs axe-core and playwright-core into a folder outside the repository.
# Says what is missing and ends with 1 when it cannot check.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
folder=${FIRSTCUE_BROWSER_DIR:-${TMPDIR:-/tmp}/firstcue-browser}
for tool in node npm; do
	command -v $tool >/dev/null || { echo "missing: $tool (Debian: apt-get install nodejs npm)" >&2; exit 1; }
done
found=
for b in "${CHROMIUM:-}" /usr/bin/chromium /usr/bin/chromium-browser /usr/bin/google-chrome; do
	if [ -n "$b" ] && [ -x "$b" ]; then found=$b; break; fi
done
[ -n "$found" ] || { echo "missing: Chromium (Debian: apt-get install chromium), or set CHROMIUM to its path" >&2; exit 1; }
if [ ! -d "$folder/node_modules/axe-core" ] || [ ! -d "$folder/node_modules/playwright-core" ]; then
	mkdir -p "$folder"
	(cd "$folder" && npm install --no-audit --no-fund --no-save --prefix "$folder" axe-core@4 playwright-core@1) ||
		{ echo "missing: axe-core and playwright-core could not be installed from npm into $folder" >&2; exit 1; }
fi
[ $# -gt 0 ] || set -- "$here"/../*.html
CHROMIUM=$found exec node "$here/check.mjs" "$folder" "$@"
