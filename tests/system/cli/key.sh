# The store's key at the command line: signing, noting, comparing.

signed=$work/signed.ledger
run custody find --ledger "$signed" --staff 07 --value 20 --place safe
ends 0 "a ledger with an entry"
run key --ledger "$signed"
ends 0 "keys of a ledger without any"
says_not 'public_key' "are none"
run key sign --ledger "$signed"
ends 0 "the first checkpoint"
says '^Signed: entry 4, hash [0-9a-f]\{64\}$' "is told with its number and hash"
noted=$(sed 's/^Signed: entry \([0-9]*\), hash /\1:/' "$work/out")
[ "$(ls -l "$signed.key" | cut -c1-10)" = -rw------- ]
report $? "the key file belongs to its owner alone"
run key --ledger "$signed" --json
ends 0 "now there is a key"
public=$(sed 's/.*"public_key":"\([0-9a-f]*\)".*/\1/' "$work/out")
run verify --ledger "$signed" --key "$public" --noted "$noted"
ends 0 "verify with what was noted"
says "^signed  up to entry 3, 1 checkpoints, key $public\$" "tells how far it is signed"
run verify --ledger "$signed" --json --key "$public"
says '"signed_until":3,"checkpoints":1,"key":"' "as JSON, too"
run key new --ledger "$signed" --staff 01
ends 0 "another key"
run verify --ledger "$signed" --key "$public"
ends 0 "which the first one vouches for"
mv "$signed.key" "$work/away.key"
run key sign --ledger "$signed"
ends 1 "without the key file nothing is signed"
grep -q 'put it back' "$work/err"
report $? "and the line says what to do"
run custody find --ledger "$signed" --staff 07 --value 50 --place safe
ends 0 "but recording goes on"
mv "$work/away.key" "$signed.key"

other=$work/again.ledger
run key sign --ledger "$other"
ends 0 "another ledger"
run verify --ledger "$other" --key "$public"
ends 1 "does not have the trusted key"
says 'trusted key' "which is told"
run verify --ledger "$other" --noted "$noted"
ends 1 "nor the noted entry"
misuse "a noted entry without a hash" verify --ledger "$signed" --noted 4
misuse "a noted entry without a number" verify --ledger "$signed" --noted x:ab
run verify --ledger "$signed" --key 12
ends 2 "a public key that is none"
misuse "an unknown thing to do with a key" key turn --ledger "$signed"
run rebuild --ledger "$signed"
ends 0 "the lists are made again"
run key --ledger "$signed"
says "$public" "and know the keys"
misuse "rebuild without a ledger" rebuild
