# counterfoil-scan, where it was built: a picture of 400 x 300 pixels with a piece of 200 x 100, written by awk.

scan=$build/plugin/counterfoil-scan
if [ -x "$scan" ]; then
    kept=$tool
    tool=$scan
    picture() { # picture LIGHT: grey levels as text (PGM, the plain form)
        awk -v light="$1" 'BEGIN {
            print "P2\n400 300\n255"
            for (y = 0; y < 300; y++)
                for (x = 0; x < 400; x++)
                    print ((x >= 100 && x < 300 && y >= 50 && y < 150) ? light : 30)
        }'
    }
    picture 200 >"$work/piece.pgm"
    picture 40 >"$work/dim.pgm"
    run "$work/piece.pgm" --dpi 100
    ends 0 "a scan"
    says '^piece 1: 1290.3 mm2, give or take' "its area: 200 x 100 pixels of 0.254 mm"
    run "$work/piece.pgm" --dpi 100 --json
    says '^{"schema":"counterfoil.scan/1","pieces":\[{"area_mm2":1290.3,' "as JSON"
    run "$work/dim.pgm" --dpi 100
    ends 1 "paper like the ground"
    run "$work/piece.pgm" --marks 257x170mm
    ends 1 "marks that are not there"
    run "$work/none.pgm" --dpi 100
    ends 2 "a picture that is not there"
    for bad in "--dpi 0" "--dpi" "--dpi 100x" "--marks 257x170" "--marks x" "--wrong" "other" "--dpi 100 --marks 257x170mm"; do
        # shellcheck disable=SC2086
        run "$work/piece.pgm" $bad
        ends 2 "scan $bad"
    done
    run
    ends 2 "scan without a picture"
    run --page
    ends 0 "the page"
    says '<svg .*width="297mm"' "it is A4 across"
    run --help
    ends 0 "scan --help"
    fits "scan --help"
    tool=$kept
fi
