#!/usr/bin/env bash
# Fuzz every target for so many bytes (1e8 unless said), one after another: bash tests/fuzz/long_run.sh FOLDER [BYTES] [TARGET...]
# What was found and what the fuzzer learned stay in FOLDER; a line of JSON for each target is printed at its end.
set -u
folder=${1:?name a folder for what is found}
bytes=${2:-1e8}
here=$(cd "$(dirname "$0")" && pwd)
python=${PYTHON:-python}
shift $(($# < 2 ? $# : 2))
targets=${*:-decoder log wav vcd csv wheel plan payload csc answers}
mkdir -p "$folder"
failed=0
for target in $targets; do
    if "$python" "$here/fuzz.py" "$target" --bytes "$bytes" --seconds "${SECONDS_EACH:-3600}" --keep "$folder" \
        >"$folder/$target.out" 2>&1; then
        tail -n 1 "$folder/$target.out"
    else
        failed=1
        echo "$target: a property does not hold, see $folder/$target.out and $folder/crash-*"
    fi
done
exit $failed
