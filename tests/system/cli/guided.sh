# A case by hand in each currency, by the rules of a place, in each language: what is good is taken, what differs is not.

phrase() { # phrase LANGUAGE KEY: the message as the catalogue has it
    sed -n "s/^ *\"$2\": \"\\(.*\\)\",*\$/\\1/p" "$root/plugin/packs/messages-$1.json"
}

session() { # session CURRENCY PLACE VALUE LANGUAGE ANSWER: one case, every answer alike
    yes "$5" | head -n 12 >"$work/answers"
    { echo "$3" && cat "$work/answers"; } >"$work/lines"
    run till --currency "$1" --jurisdiction "$2" --language "$4" --count 1 <"$work/lines"
}

for language in en de fr it es hi; do
    run pack check --language "$language"
    ends 0 "nothing is missing in $language"
    while read -r currency place value; do
        session "$currency" "$place" "$value" "$language" 1
        ends 0 "$currency $place $language: everything as it should be"
        says_across "$(phrase "$language" advice.take_by_hand.title)" "the note is taken"
        says_across "$(phrase "$language" till.disposition.taken)" "and the end says so"
        session "$currency" "$place" "$value" "$language" 2
        ends 0 "$currency $place $language: everything differs"
        says_across "$(phrase "$language" advice.set_aside.title)" "the note is not taken"
        says_across "$(phrase "$language" rules.tell_whom)" "whom to tell stands there"
        session "$currency" "$place" "$value" "$language" 3
        says_across "$(phrase "$language" advice.ask_another.title)" "nothing could be told: another note is asked for"
    done <<'L'
EUR DE 50
GBP UK 20
INR IN 500
USD US 100
L
done
