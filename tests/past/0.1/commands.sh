set -u
export SWATCHCAM_CARDS=cards SWATCHCAM_LIBRARY=${LIB:-library.sqlite} SWATCHCAM_PHOTOS=${PH:-photos} OPENBLAS_NUM_THREADS=1
mkdir -p json
S=sample_images
C="--card halm-1"
s() { local name=$1; shift; echo "== $name: swatchcam $*" >&2; swatchcam "$@" --json > json/$name.json 2> err.txt; local rc=$?; case $rc in 0|4|5) ;; *) echo "   exit $rc: $(head -c 300 json/$name.json err.txt)" >&2;; esac; }
(echo "Illuminant,D65"; echo "Observer,10"; grep -v '^#' calibration/sample-card.csv) > readings.csv
s card-values card values readings.csv --card-name halm-1 --geometry 45/0 --date 2026-03-01
s card-show card show halm-1
s card-print card print --paper a4 --output card.pdf --no-png
s strip-lay strip lay halm yellow red blue black --output strip.pdf --no-png
s strip-learn strip learn sample-strip $S/two_lamps_window.jpg --other-lamp $S/two_lamps_led.jpg $C
s strip-show strip show sample-strip
s measure measure $S/loose.jpg --beside $C
s check check $S/differs.jpg $C
s check-against check $S/after_heat.jpg --against $S/before_heat.jpg $C
s check-target check $S/good_pair.jpg --target 52.9,45.8,13.7 $C
s check-two-lamps check $S/two_lamps_window.jpg --other-lamp $S/two_lamps_led.jpg $C
s refused check $S/bad_no_card.jpg
s library-fill library fill $S --list $S/season.csv $C --processes 1
s check-shade check $S/season_3_dry.jpg --shade rust $C
s keep keep $S/season_3_dry.jpg --shade rust --batch 2 --recipe "binder 500 g, red 2.5 g, brown 14 drops" --measured 2026-09-07 $C
s keep-heat-set keep $S/season_3_set.jpg --shade rust --batch 2 --stage heat-set --measured 2026-09-08 $C
s check-after-heat check $S/season_3_dry.jpg --window left --shade rust --batch 1 --after-heat $C
s shade-target shade target rust 51.8,31.2,34.5 --tolerance 2.5
s shade-tag shade tag rust autumn
s shade-note shade note rust "For the market in October."
s shade-rename shade rename sage "sage green"
s shade-batch shade batch rust 2 --ink "halm base" --notes "second pot"
s shade-list shade list
s shade-show shade show rust
s near near 51,30.5,34 --count 3
s library-record library record 1
s library-amend library amend 2 --notes "a little uneven"
s library-remove library remove 4
s library-log library log
s fill-ladders library fill $S --list $S/ladders.csv $C --processes 1
s pigment-set pigment set red --most 6 --price 4.20
s pigment-lot pigment lot golden G2 --since 2026-09-01 --strength 1.05
s pigment-list pigment list
s pigment-show pigment show red
s mix-recipe mix recipe --target $S/wanted.jpg:left $C --grams 300 --scale 0.01 --shade terracotta --keep --as 1
s mix-correct mix correct $S/pot_1.jpg $C --shade terracotta --beside-strip left --grams 290 --scale 0.01 --keep
s mix-correct-again mix correct $S/pot_2.jpg $C --shade terracotta --beside-strip left --grams 285 --scale 0.01
s mix-thin mix thin $S/pot_1.jpg $C --shade terracotta --target 70,20,25 --grams 290 --want 400 --scale 0.01
s mix-again mix again terracotta --grams 400 --scale 0.01
s mix-hits mix hits
s amount amount --motif 30x40 --coverage 35 --pieces 60 --used '120 g for 40' --pot 500
s opacity opacity $S/two_cloths.jpg $C --bare-light beside-1 --bare-dark beside-2
s library-where library where
s library-export library export json --output export.json
s library-verify library verify
s library-backup library backup backup.zip
s shade-merge shade merge slate "sage green"
s library-restore library restore 2
s shade-remove shade remove raspberry
s library-log-after library log
s mix-remove mix remove 2
s pigment-ladder pigment ladder $S/tint_ladder_1.jpg --pigment brown --load left=0.1 --load right=0.4 --cup 100 --measured 2026-09-20 --cloth "white cotton" --ink "halm base" $C
s library-page library page rust --output rust.html
s library-cards library cards rust --output cards.pdf
s library-fill-again library fill $S --list $S/season.csv $C --processes 1
s library-upgrade library upgrade
s library-verify-after library verify
s library-export-after library export json --output export-after.json
