#!/usr/bin/env bash
# Compares the saturation values of `reports` with CoolProp, the library of thermophysical properties.
#
#     tests/independent/physics.sh
#
# It installs the pinned CoolProp into target/python-physics and says so, builds the example
# `saturation` of `reports`, and asks both for every refrigerant at the points of the table and
# between them. Ends with "N passed, N failed".
set -eu
cd "$(dirname "$0")/../.."
python="$PWD/target/python-physics/bin/python"
requirements=tests/independent/physics-requirements.txt
# Nothing is left behind beside the sources.
export PYTHONDONTWRITEBYTECODE=1

if ! "$python" -c 'import CoolProp; assert CoolProp.__version__ == "8.0.0"' 2>/dev/null; then
    echo "Installing into target/python-physics: $(cat $requirements)"
    python3 -m venv target/python-physics
    "$python" -m pip install -q --disable-pip-version-check -r "$requirements"
fi
cargo build --locked -q --workspace --example saturation
exec "$python" tests/independent/physics.py "${CARGO_TARGET_DIR:-target}/debug/examples/saturation"
