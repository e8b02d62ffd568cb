/*
 * Which of the notes that the device says it took are credited?
 *
 * MDB/ICP has no event counter: the same 8x sent again because our ACK was lost looks like a second note. So each 8x and
 * Bx is a claim only, and is told as stacked when the device's own count of notes has risen by exactly as many. README.md
 * states the whole rule.
 */
#include "session.h"

#include <stdio.h>

enum { SHIFTS_MAX = 100 };

static bool of_counter(uint8_t claim, uint32_t counter)
{
    return ((claim & CLAIM_RECYCLER) != 0) == (counter == COUNTER_RECYCLER);
}

static bool asked_for(uint8_t claim)
{
    return (claim & (CLAIM_PAIRED | CLAIM_FREE)) != 0;
}

static uint8_t byte_of(uint8_t claim)
{
    return (uint8_t)(((claim & CLAIM_RECYCLER) != 0 ? 0xB0 : 0x80) | (claim & CLAIM_TYPE));
}

static uint32_t claims_count(const struct session *session, uint32_t counter, bool repeats_only)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < session->claim_count; i++) {
        uint8_t claim = session->claims[i];
        if (of_counter(claim, counter) && (!repeats_only || (claim & CLAIM_REPEAT) != 0))
            count++;
    }
    return count;
}

static int64_t rise_of(const struct counter *counter)
{
    return (int64_t)counter->now - counter->base - counter->shifts;
}

/* ---- Telling ---- */

/* Record and device disagree: no more notes until a person has looked. Not at the first look at a device, where what
 * happened before is no fault of this connection. */
static void stop(struct session *session)
{
    if (!session->recovered)
        return;
    session->blocked = true;
    session->told = false;
}

static void stacked_tell(const struct session *session, uint8_t claim)
{
    const struct mdb_note *note = &session->setup.notes[claim & CLAIM_TYPE];
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    mdb_raw_put(&event, byte_of(claim));
    mdb_note_put(session, &event, claim & CLAIM_TYPE);
    event.kind = note->valued ? CFOIL_KIND_STACKED : CFOIL_KIND_DEVICE;
    event.condition = note->valued ? CFOIL_CONDITION_NONE : CFOIL_CONDITION_UNKNOWN_NOTE_STACKED;
    const char *place = (claim & CLAIM_RECYCLER) != 0 ? "recycler" : "cash box";
    if (note->valued)
        snprintf(event.text, sizeof event.text, "The note went to the %s.", place);
    else if (note->token)
        snprintf(event.text, sizeof event.text, "A token, which is no money, went to the %s.", place);
    else
        snprintf(event.text, sizeof event.text, "A note of unknown value went to the %s: count by hand.", place);
    mdb_event_tell(session, &event);
}

static void doubt_tell(const struct session *session, uint8_t claim, int32_t condition, const char *text)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = condition;
    event.reason = CFOIL_REASON_DEVICE;
    event.reasons_possible = 1u << CFOIL_REASON_DEVICE;
    mdb_raw_put(&event, byte_of(claim));
    mdb_note_put(session, &event, claim & CLAIM_TYPE);
    snprintf(event.text, sizeof event.text, "%s", text);
    mdb_event_tell(session, &event);
}

static void short_tell(const struct session *session, uint8_t claim, const char *text)
{
    doubt_tell(session, claim, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT, text);
    if ((claim & CLAIM_PAIRED) != 0)
        mdb_outcome_unknown_tell(session, claim & CLAIM_TYPE);
}

static void unasked_tell(struct session *session, uint8_t claim)
{
    short_tell(session, claim, "Not credited: the validator stacked a note without our command. Count the cash box.");
    stop(session);
}

static void repeat_tell(const struct session *session, uint8_t claim)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = CFOIL_CONDITION_LINE_NOISY;
    event.reason = CFOIL_REASON_DEVICE;
    event.reasons_possible = 1u << CFOIL_REASON_DEVICE;
    mdb_raw_put(&event, byte_of(claim));
    event.note_type = (claim & CLAIM_TYPE) + 1;
    snprintf(event.text, sizeof event.text,
             "The validator repeated that it stacked a note, because our answer was lost: not credited twice.");
    mdb_event_tell(session, &event);
}

static void lost_tell(struct session *session, uint32_t count, const char *text)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_LOST_EVENTS;
    event.condition = CFOIL_CONDITION_COUNTER_GAP;
    event.lost_count = count;
    snprintf(event.raw_text, sizeof event.raw_text, "stacker count");
    snprintf(event.text, sizeof event.text, "%s", text);
    mdb_event_tell(session, &event);
    stop(session);
}

/* ---- Which claims are true ---- */

struct decision {
    int64_t rise;
    uint32_t claimed;
    uint32_t sure; /* claims that cannot be repetitions */
    uint32_t real_count;
    bool real[CLAIMS_MAX];
};

static void real_set(struct decision *decision, uint32_t place)
{
    decision->real[place] = true;
    decision->real_count++;
}

/* Fewer than said are true, and nobody knows which: all the same when they are of one type. Those that an ESCROW command
 * asked for come first. */
static void alike_mark(const struct session *session, uint32_t counter, struct decision *decision)
{
    int type = -1;
    for (uint32_t i = 0; i < session->claim_count; i++) {
        uint8_t claim = session->claims[i];
        if (!of_counter(claim, counter) || (claim & CLAIM_REPEAT) != 0)
            continue;
        if (type >= 0 && type != (claim & CLAIM_TYPE))
            return;
        type = claim & CLAIM_TYPE;
    }
    for (int pass = 0; pass < 2; pass++) {
        for (uint32_t i = 0; i < session->claim_count && decision->real_count < decision->rise; i++) {
            uint8_t claim = session->claims[i];
            if (of_counter(claim, counter) && (claim & CLAIM_REPEAT) == 0 && asked_for(claim) == (pass == 0))
                real_set(decision, i);
        }
    }
}

static void real_mark(const struct session *session, uint32_t counter, struct decision *decision)
{
    decision->rise = rise_of(&session->counters[counter]);
    decision->claimed = claims_count(session, counter, false);
    decision->sure = decision->claimed - claims_count(session, counter, true);
    if (decision->rise < decision->sure) {
        if (decision->rise > 0 && !session->away)
            alike_mark(session, counter, decision);
        return;
    }
    /* A claim that may be a repetition is true only if the count leaves no other way. While nobody watched, another note
     * may have made it rise; and a note given up before may show late. */
    bool all = decision->rise == decision->claimed && session->counters[counter].doubts == 0 && !session->away;
    for (uint32_t i = 0; i < session->claim_count; i++) {
        uint8_t claim = session->claims[i];
        if (of_counter(claim, counter) && (all || (claim & CLAIM_REPEAT) == 0))
            real_set(decision, i);
    }
}

/* A claim that nothing proves; its note may be in the box, and the count may still rise for it. */
static void claim_give_up(struct session *session, uint8_t claim, const char *text)
{
    struct counter *counter = &session->counters[(claim & CLAIM_RECYCLER) != 0 ? COUNTER_RECYCLER : COUNTER_STACKER];
    if (counter->doubts < UINT8_MAX)
        counter->doubts++;
    short_tell(session, claim, text);
    stop(session);
}

static void excess_tell(struct session *session, const struct counter *counter, uint8_t claim,
                        const struct decision *decision)
{
    char text[160];
    if (!counter->known)
        snprintf(text, sizeof text,
                 "Not credited: no earlier count to check a note said to be stacked. Count the cash box.");
    else
        snprintf(text, sizeof text,
                 "Not credited: %u said to be stacked, but the count went from %u to %u. Count the cash box.%s",
                 decision->claimed, counter->base, counter->now,
                 counter->moved ? "" : " Does it never move? See stacker_count.");
    claim_give_up(session, claim, text);
}

static void claim_decide(struct session *session, uint32_t counter, uint32_t place, struct decision *decision)
{
    uint8_t claim = session->claims[place];
    if (decision->real[place] && asked_for(claim)) {
        stacked_tell(session, claim);
    } else if (decision->real[place]) {
        unasked_tell(session, claim);
    } else if (session->counters[counter].known && (claim & CLAIM_REPEAT) != 0 && decision->rise == decision->sure) {
        repeat_tell(session, claim);
    } else {
        excess_tell(session, &session->counters[counter], claim, decision);
    }
}

/* The count says something that no claim does. */
static void gap_tell(struct session *session, struct counter *counter, const struct decision *decision)
{
    char text[160];
    int64_t surplus = decision->rise - decision->real_count;
    while (surplus > 0 && counter->doubts > 0) { /* told already as not credited */
        say_log(session->host, CFOIL_LOG_NOTICE, "count_late", "The count rose late for a note that was not credited.");
        counter->doubts--;
        surplus--;
    }
    if (surplus > 0) {
        snprintf(text, sizeof text,
                 "%u notes stacked while not watched: the count went from %u to %u. Count the cash box.",
                 (uint32_t)surplus, counter->base, counter->now);
        lost_tell(session, (uint32_t)surplus, text);
        return;
    }
    if (decision->rise >= 0)
        return;
    snprintf(text, sizeof text, "The count of notes went down from %u to %u: notes stacked meanwhile would not show.",
             counter->base, counter->now);
    bool box = session->box_us != 0 && session->now_us - session->box_us < BOX_US;
    if (box && counter->now == 0 && decision->claimed == 0 && !session->away)
        say_log(session->host, CFOIL_LOG_NOTICE, "count_cleared", "%s The cash box was out.", text);
    else
        lost_tell(session, 0, text);
}

static void claims_remove(struct session *session, uint32_t counter)
{
    uint32_t kept = 0;
    for (uint32_t i = 0; i < session->claim_count; i++) {
        if (!of_counter(session->claims[i], counter))
            session->claims[kept++] = session->claims[i];
    }
    session->claim_count = kept;
}

static void counter_decide(struct session *session, uint32_t which)
{
    struct counter *counter = &session->counters[which];
    struct decision decision = {0};
    if (counter->known)
        real_mark(session, which, &decision);
    for (uint32_t i = 0; i < session->claim_count; i++) {
        if (of_counter(session->claims[i], which))
            claim_decide(session, which, i, &decision);
    }
    if (counter->known)
        gap_tell(session, counter, &decision);
    if (counter->known && decision.rise > 0)
        counter->moved = true;
    claims_remove(session, which);
    counter->base = counter->now;
    counter->shifts = 0;
    counter->known = which == COUNTER_STACKER || session->recycler;
}

static void counts_decide(struct session *session)
{
    for (uint32_t i = 0; i < COUNTERS; i++)
        counter_decide(session, i);
    session->settle_us = UINT64_MAX;
    session->unread_us = UINT64_MAX;
    session->count_wanted = false;
    mdb_held_later_tell(session);
}

/* Nothing to think about: as many notes as were said, and none that may be a repetition. */
static bool agrees(const struct session *session, uint32_t counter)
{
    if (!session->counters[counter].known)
        return true;
    return claims_count(session, counter, true) == 0 &&
           rise_of(&session->counters[counter]) == claims_count(session, counter, false);
}

void mdb_counts_judge(struct session *session)
{
    if (agrees(session, COUNTER_STACKER) && agrees(session, COUNTER_RECYCLER)) {
        counts_decide(session);
        return;
    }
    if (session->settle_us == UINT64_MAX)
        session->settle_us = session->now_us + SETTLE_US;
    /* A count that lags, or a note whose message is still to come, comes right by itself. */
    if (session->now_us >= session->settle_us && session->quiet >= 2)
        counts_decide(session);
}

void mdb_count_take(struct session *session, uint32_t counter, uint32_t now)
{
    if (session->counters[counter].now != now)
        session->quiet = 0;
    session->counters[counter].now = now;
}

/* A count that should be read was not. What it was before still stands: the next reading is compared with that. */
void mdb_counts_fail(struct session *session)
{
    if (session->now_us < session->unread_us)
        return;
    say_log(session->host, CFOIL_LOG_ERROR, "count_unreadable", "The validator does not tell its count of notes.");
    for (uint32_t i = 0; i < session->claim_count; i++)
        claim_give_up(session, session->claims[i],
                      "Not credited: the validator does not tell its count of notes. Count the cash box.");
    session->claim_count = 0;
    session->unread_us = UINT64_MAX;
    mdb_held_later_tell(session);
}

void mdb_claims_abandon(struct session *session)
{
    for (uint32_t i = 0; i < session->claim_count; i++)
        short_tell(session, session->claims[i], "Not credited: another validator was connected before it was checked.");
    session->claim_count = 0;
    for (uint32_t i = 0; i < COUNTERS; i++)
        session->counters[i] = (struct counter){0};
}

/* The line or the lane ends. What is not decided yet is decided by the next life, if the device comes back and is known
 * by its serial number; nobody can promise that it will. */
void mdb_claims_leave(const struct session *session)
{
    for (uint32_t i = 0; i < session->claim_count; i++)
        doubt_tell(session, session->claims[i], CFOIL_CONDITION_OUTCOME_UNKNOWN,
                   "Said to be stacked, and the line ended before it was checked: told when the validator is back. If "
                   "it is not, count the cash box.");
    if (session->key[0] == '\0' && session->now_us < session->free_us)
        mdb_condition_tell(
            session, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT, "stacker count",
            "The line ended, and this validator has no serial number: a note stacked now would not show. "
            "Count the cash box.");
}

/* ---- Claims come in ---- */

/* Without a count that is of use, only our own ESCROW command speaks for a claim. */
static void unproved_decide(struct session *session, uint8_t claim)
{
    if ((claim & CLAIM_PAIRED) != 0)
        stacked_tell(session, claim);
    else if ((claim & CLAIM_REPEAT) != 0)
        repeat_tell(session, claim);
    else
        unasked_tell(session, claim);
}

/* Does the note in escrow end with this claim? */
static bool held_end(struct session *session, uint8_t type)
{
    struct held *held = &session->held;
    if (held->state == HELD_NONE || held->type != type)
        return false;
    bool paired = held->permit;
    if (!paired && held->state != HELD_LATER && session->now_us >= session->free_us)
        mdb_held_doubt(session); /* told as held, and stacked without our command */
    held->state = HELD_NONE;
    held->permit = false;
    held->escrow_us = UINT64_MAX;
    held->outcome_us = UINT64_MAX;
    return paired;
}

void mdb_claim_add(struct session *session, uint8_t type, bool recycler, bool repeat)
{
    uint8_t claim = (uint8_t)(type | (recycler ? CLAIM_RECYCLER : 0) | (repeat ? CLAIM_REPEAT : 0));
    if (repeat && session->now_us - session->last_us < REPEAT_US) {
        repeat_tell(session, claim); /* if it is another note after all, the count will show it */
        return;
    }
    if (!repeat && held_end(session, type))
        claim |= CLAIM_PAIRED;
    if (session->now_us < session->free_us)
        claim |= CLAIM_FREE;
    if (!session->settings.count_used && session->recovered) {
        unproved_decide(session, claim);
        return;
    }
    if (session->claim_count == CLAIMS_MAX) {
        short_tell(session, claim, "Not credited: more notes said to be stacked than can be checked at once.");
        stop(session);
        return;
    }
    session->claims[session->claim_count++] = claim;
    session->quiet = 0;
    session->count_wanted = true;
    if (session->unread_us == UINT64_MAX)
        session->unread_us = session->now_us + UNREAD_US;
}

/* Dx, Ex, Fx: service or the device moved a note, which is no money but changes the counts. */
void mdb_shift_add(struct session *session, uint8_t byte)
{
    static const int8_t shifts[2][COUNTERS] = {{0, 1}, {0, -1}};
    static const int8_t transfer[COUNTERS] = {1, -1};
    uint8_t route = byte >> 4 & 7;
    const int8_t *shift = route == 7 ? transfer : shifts[route - 5];
    for (uint32_t i = 0; i < COUNTERS; i++) {
        struct counter *counter = &session->counters[i];
        int32_t sum = counter->shifts + shift[i];
        counter->shifts = sum > SHIFTS_MAX || sum < -SHIFTS_MAX ? counter->shifts : sum;
    }
    session->count_wanted = true;
}

/* Two sources disagree about the layout: 16 counts of two bytes, or 32 of one. The sum of all bytes rises by one for each
 * note in both, as long as no count of the first layout passes 255. */
uint32_t mdb_recycler_count(const uint8_t *data)
{
    uint32_t sum = 0;
    for (uint32_t i = 2; i < 34; i++)
        sum += data[i];
    return sum;
}

/* ---- What happened while nobody listened ---- */

static void unproved_recover(struct session *session)
{
    for (uint32_t i = 0; i < session->claim_count; i++)
        unproved_decide(session, session->claims[i]);
    session->claim_count = 0;
    session->count_wanted = false;
}

void mdb_counts_recover(struct session *session)
{
    struct held *held = &session->held;
    session->away = true;
    if (session->settings.count_used)
        counts_decide(session);
    else
        unproved_recover(session);
    if (held->state != HELD_NONE && !session->recovered)
        mdb_outcome_unknown_tell(session, held->type); /* in escrow before this life, and nothing tells its fate */
    held->state = HELD_NONE;
    held->permit = false;
    session->away = false;
    session->recovered = true;
}
