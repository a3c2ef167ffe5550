#!/bin/sh
# Opens exported files in a real spreadsheet: sh run.sh
# Says what is missing and ends with 1 when it cannot check.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
command -v soffice >/dev/null || { echo "missing: soffice (Debian: apt-get install libreoffice-calc)" >&2; exit 1; }
cd "$here/../../../.."
FIRSTCUE_SHEET=1 exec go test -count=1 -v -run 'TestSpreadsheetOpensExport' ./internal/cli
