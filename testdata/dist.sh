#!/bin/sh
# Makes ./dist: an archive a system with the program, manual pages, completions and
# how to install it, and the SHA-256 sums. Made twice from one commit, the bytes are
# the same: one date on every file, names sorted, no owner.
# usage: sh testdata/dist.sh VERSION
set -eu
cd "$(dirname "$0")/.."
version=${1:-$(git describe --tags --always 2>/dev/null || echo development)}
for tool in tar gzip zip sha256sum; do
  command -v "$tool" >/dev/null || { echo "missing: $tool (Debian: apt-get install tar gzip zip coreutils)"; exit 1; }
done
export CGO_ENABLED=0 LC_ALL=C TZ=UTC
stamp='2026-01-01 00:00:00'

rm -rf dist
mkdir -p dist/common/man dist/common/completions
go run ./internal/cli/manual dist/common/man
go build -trimpath -o dist/host ./cmd/firstcue
for shell in bash zsh fish powershell; do
  dist/host completion "$shell" > "dist/common/completions/firstcue.$shell"
done
rm dist/host
cp docs/install.md dist/common/INSTALL.md
if [ -f LICENSE ]; then cp LICENSE dist/common/; fi

for system in linux/amd64 linux/arm64 linux/386 darwin/amd64 darwin/arm64 windows/amd64; do
  name=firstcue-$version-$(echo "$system" | tr / -)
  mkdir "dist/$name"
  cp -R dist/common/. "dist/$name/"
  program=firstcue
  case $system in windows/*) program=firstcue.exe ;; esac
  GOOS=${system%/*} GOARCH=${system#*/} go build -trimpath -ldflags '-s -w' -o "dist/$name/$program" ./cmd/firstcue
  find "dist/$name" -exec touch -d "$stamp" {} +
  case $system in
    windows/*) (cd dist && find "$name" | sort | zip -q -X -@ "$name.zip") ;;
    *) tar -C dist --sort=name --owner=0 --group=0 --numeric-owner --mode=go-w -cf - "$name" | gzip -n -9 > "dist/$name.tar.gz" ;;
  esac
  rm -rf "dist/$name"
done
rm -rf dist/common
(cd dist && sha256sum firstcue-* > SHA256SUMS && cat SHA256SUMS)
