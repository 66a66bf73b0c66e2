#!/usr/bin/env bash
# Cut the map data of this folder from the full extracts: make_cuts.sh FOLDER_OF_EXTRACTS
# Needs osmium-tool. What a rider passes stays (roads, shops, fuel, taps, camps), the rest goes.
set -euo pipefail
from=$1
to=$(cd "$(dirname "$0")" && pwd)/osm
work=$(mktemp -d)

cut() { # file, box, road classes
  local name=$1 box=$2 roads=$3
  osmium sort "$from/$name" -O -o "$work/sorted.osm.pbf"
  osmium extract -b "$box" --set-bounds -s complete_ways "$work/sorted.osm.pbf" -O -o "$work/box.osm.pbf"
  osmium tags-filter "$work/box.osm.pbf" "w/highway=$roads" nwr/shop nwr/tourism=camp_site \
    nwr/amenity=fuel,drinking_water nwr/opening_hours -O -o "$work/kept.osm.pbf"
  osmium cat "$work/kept.osm.pbf" --output-header="generator=cut" -O -o "$to/$name" \
    -f "${name#*.},add_metadata=false"
}
MAIN=motorway,trunk,primary,secondary,tertiary,unclassified,residential,living_street
LINKS=motorway_link,trunk_link,primary_link,secondary_link,tertiary_link
cut andorra-2025-01.osm.pbf 1.46,42.49,1.58,42.63 "$MAIN,$LINKS,service"
cut monaco-2023-12.osm.pbf 7.415,43.73,7.435,43.742 "primary,secondary,tertiary"
cut dreieich-2022-10.osm.pbf 8.69,49.995,8.72,50.012 "$MAIN"
cut columbus-ohio.osm.pbf -83.08,39.94,-82.98,40.02 "primary,secondary"
cut krems-2013-12.osm.gz 15.57,48.39,15.66,48.43 "$MAIN"
cut north-bayreuth-2014-11.osm.gz 11.48,49.96,11.60,50.04 "$MAIN"
cut beatty-nevada-2017-08.osm -116.8,36.87,-116.7,36.95 "trunk,primary,secondary"
install -m 644 "$from/west-oakland.osm.bz2" "$to/"
rm -r "$work"
