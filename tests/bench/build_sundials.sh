#!/usr/bin/env bash
# Builds SUNDIALS' CVODE for this very processor, as the fairest peer: a distribution's package has to run on any.
#
#   tests/bench/build_sundials.sh SOURCE_TREE PREFIX
#   cargo run --release --manifest-path tests/bench/Cargo.toml -- peers --sundials PREFIX/lib
#
# SOURCE_TREE: unpacked sources of SUNDIALS 6, for example `apt-get source sundials` on Debian with a deb-src line.
set -euo pipefail
if [ $# -ne 2 ] || [ ! -f "$1/CMakeLists.txt" ]; then
  echo "usage: $0 SOURCE_TREE PREFIX (needs cmake and a C compiler)" >&2
  exit 2
fi
flags="-O3 -march=native"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cmake -S "$1" -B "$work" -DCMAKE_INSTALL_PREFIX="$2" -DCMAKE_INSTALL_LIBDIR=lib -DCMAKE_BUILD_TYPE=Release \
  -DCMAKE_C_FLAGS="$flags" -DBUILD_SHARED_LIBS=ON -DBUILD_STATIC_LIBS=OFF -DBUILD_ARKODE=OFF -DBUILD_CVODES=OFF \
  -DBUILD_IDA=OFF -DBUILD_IDAS=OFF -DBUILD_KINSOL=OFF -DEXAMPLES_ENABLE_C=OFF -DEXAMPLES_INSTALL=OFF
nice cmake --build "$work" --parallel 1 --target install
echo "from source, Release, $flags, $(cc --version | head -1)" > "$2/lib/built.txt"
