# Serial numbers of the first and second euro series; the figures come from the check rule, tests/published has the rule.

run serial EUR X04940051213
ends 0 "a well-read serial number"
says X04940051213 "it is shown"
says 'caution: .*only whether the number was read well' "with its caution"
run serial EUR "x 0494 0051 213"
ends 0 "blanks and small letters do not matter"
run serial EUR X04940051214
ends 1 "a misread figure"
run serial EUR NONSENSE
ends 1 "an unknown form"
run serial EUR X04940051213 --json
ends 0 "as JSON"
says '^{"format_known":true,"currency":"EUR","serial":"X04940051213","checksum":"fits"' "JSON members"
run serial --json EUR X04940051214
ends 1 "JSON of a misread figure"
says '"checksum":"differs"' "JSON says that it differs"
