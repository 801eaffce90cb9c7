#!/usr/bin/env bash
# Computes the reference figures anew with the Python libraries that they came from, at the pinned versions, and holds
# them against the files in data/. A figure that no longer comes out is either a changed file or a changed library.
# With CI=1 a missing Python or package is an error; otherwise the check is left out, with a line that says so.
set -euo pipefail
cd "$(dirname "$0")"

leave_out() {
    if [[ ${CI:-} ]]; then
        echo "reference figures: $1" >&2
        exit 1
    fi
    echo "reference figures: left out: $1"
    exit 0
}

command -v python3 >/dev/null || leave_out "there is no python3"
python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' || leave_out "python3 is older than 3.11"
python3 -c 'import ensurepip, venv' 2>/dev/null || leave_out "python3 has no venv (Debian: python3-venv)"

# What the scripts below import; the other packages of the list belong to scripts that need downloads of their own.
packages=(psychrolib CoolProp pint uncertainties numpy mpmath scipy chemicals fluids pandas)
scripts=(s3_psychro s4_emc s5_diffusion s6_lel s8_uncertainty s9_units)
made=(
    psychro_fixtures psat_reference dewpoint_formula_errors
    emc_fixtures emc_table42_check
    diffusion_slab diffusion_slab_biot diffusion_two_layer
    lel_fixtures lel_mixture_detail
    film_uncertainty film_stack_uncertainty
    unit_factors
)

folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
pins=()
for name in "${packages[@]}"; do
    pins+=("$(grep -m1 "^$name==" scripts/requirements.txt)")
done
python3 -m venv "$folder/venv"
"$folder/venv/bin/python" -m pip install --quiet --disable-pip-version-check --prefer-binary "${pins[@]}" ||
    leave_out "the packages of requirements.txt cannot be installed"

# The scripts write beside themselves, so they run on a copy; what they are to write is taken out of it first.
cp -r scripts data "$folder/"
for name in "${made[@]}"; do
    rm "$folder/data/$name.csv"
done
for script in "${scripts[@]}"; do
    "$folder/venv/bin/python" "$folder/scripts/$script.py" >"$folder/said" || {
        cat "$folder/said" >&2
        exit 1
    }
done
"$folder/venv/bin/python" scripts/compare.py data "$folder/data" "${made[@]}"
