#!/usr/bin/env bash
# The program on a real kernel, with its relay's line watched from outside: QEMU's
# board "virt" with Debian's arm64 kernel. See deploy/board/main.go.
#
#   bash deploy/board.sh [--install]
#
# With --install it brings QEMU (as root) and fetches the kernel, which is kept in
# the user's cache; without it, it says what is missing and ends with code 75.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
cache="${XDG_CACHE_HOME:-$HOME/.cache}/mashward-board"
install=no
[ "${1:-}" != --install ] || install=yes

if ! command -v qemu-system-aarch64 >/dev/null; then
  [ "$install" = yes ] || { echo "not here: qemu-system-aarch64 (Debian: qemu-system-arm); --install brings it"; exit 75; }
  DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=300 install -y -qq --no-install-recommends qemu-system-arm >/dev/null
fi

# fetch_kernel unpacks Debian's arm64 kernel beside the system, by an apt of its own.
fetch_kernel() {
  local root="$cache/apt" name
  mkdir -p "$root"/{state/lists/partial,cache/archives/partial,etc}
  cat >"$root/apt.conf" <<CONF
Dir::State "$root/state";
Dir::Cache "$root/cache";
Dir::Etc::sourcelist "$root/etc/sources.list";
Dir::Etc::sourceparts "/dev/null";
APT::Architecture "arm64";
APT::Architectures {"arm64";};
CONF
  echo "deb [signed-by=/usr/share/keyrings/debian-archive-keyring.gpg] http://deb.debian.org/debian bookworm main" >"$root/etc/sources.list"
  export APT_CONFIG="$root/apt.conf"
  apt-get update -qq
  name=$(apt-cache depends linux-image-arm64 | awk '/Depends: linux-image-/ { print $2; exit }')
  (cd "$cache" && apt-get download -qq "$name" && dpkg-deb --fsys-tarfile "$name"_*.deb | tar -x --wildcards './boot/vmlinuz-*' && rm -f "$name"_*.deb)
  unset APT_CONFIG
}

if ! ls "$cache"/boot/vmlinuz-* >/dev/null 2>&1; then
  [ "$install" = yes ] || { echo "not here: an arm64 kernel in $cache; --install fetches Debian's"; exit 75; }
  fetch_kernel
fi
go run ./deploy/board --kernel "$(ls "$cache"/boot/vmlinuz-* | tail -n 1)"
