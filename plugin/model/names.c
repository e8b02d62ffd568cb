/*
 * The words of the model as text. See names.h.
 */
#include "model/names.h"

#include <counterfoil/adapter.h>
#include <stddef.h>
#include <string.h>

struct word {
    int32_t code;
    const char *text;
};

#define WORD_COUNT(table) (sizeof(table) / sizeof((table)[0]))

static const char *word_of(const struct word *table, size_t count, int32_t code)
{
    for (size_t i = 0; i < count; i++) {
        if (table[i].code == code)
            return table[i].text;
    }
    return "unknown";
}

static int32_t code_of(const struct word *table, size_t count, const char *text)
{
    for (size_t i = 0; text != NULL && i < count; i++) {
        if (strcmp(table[i].text, text) == 0)
            return table[i].code;
    }
    return -1;
}

static const struct word kinds[] = {
    {CFOIL_KIND_HELD, "held"},
    {CFOIL_KIND_STACKED, "stacked"},
    {CFOIL_KIND_RETURNED, "returned"},
    {CFOIL_KIND_REJECTED, "rejected"},
    {CFOIL_KIND_DEVICE, "device"},
    {CFOIL_KIND_LOST_EVENTS, "lost_events"},
    {CFOIL_KIND_LANE_STATE, "lane_state"},
};

static const struct word reasons[] = {
    {CFOIL_REASON_NONE, "none"},
    {CFOIL_REASON_AUTHENTICITY, "authenticity"},
    {CFOIL_REASON_NOT_RECOGNISED, "not_recognised"},
    {CFOIL_REASON_HANDLING, "handling"},
    {CFOIL_REASON_NOT_ENABLED, "not_enabled"},
    {CFOIL_REASON_DEVICE, "device_condition"},
    {CFOIL_REASON_TAMPERING, "tampering"},
};

static const struct word channels[] = {
    {CFOIL_CHANNEL_UNKNOWN, "not_told"},
    {CFOIL_CHANNEL_IMAGE, "image"},
    {CFOIL_CHANNEL_ULTRAVIOLET, "ultraviolet"},
    {CFOIL_CHANNEL_INFRARED, "infrared"},
    {CFOIL_CHANNEL_MAGNETIC, "magnetic"},
    {CFOIL_CHANNEL_THREAD, "thread"},
    {CFOIL_CHANNEL_SIZE, "size"},
    {CFOIL_CHANNEL_THICKNESS, "thickness"},
    {CFOIL_CHANNEL_TRANSPORT, "transport"},
};

static const struct word strengths[] = {
    {CFOIL_STRENGTH_NONE, "none"},
    {CFOIL_STRENGTH_WEAK, "weak"},
    {CFOIL_STRENGTH_CLEAR, "clear"},
    {CFOIL_STRENGTH_STRONG, "strong"},
};

static const struct word origins[] = {
    {CFOIL_ORIGIN_DEVICE, "device"},
    {CFOIL_ORIGIN_PERSON, "person"},
    {CFOIL_ORIGIN_LIBRARY, "library"},
};

static const struct word conditions[] = {
    {CFOIL_CONDITION_NONE, "none"},
    {CFOIL_CONDITION_RESTARTED, "restarted"},
    {CFOIL_CONDITION_JAM_REACHABLE, "jam_reachable"},
    {CFOIL_CONDITION_JAM_SAFE, "jam_safe"},
    {CFOIL_CONDITION_STACKER_REMOVED, "stacker_removed"},
    {CFOIL_CONDITION_STACKER_IN_PLACE, "stacker_in_place"},
    {CFOIL_CONDITION_STACKER_FULL, "stacker_full"},
    {CFOIL_CONDITION_FAULT, "fault"},
    {CFOIL_CONDITION_FAULT_CLEARED, "fault_cleared"},
    {CFOIL_CONDITION_TAMPERING, "tampering"},
    {CFOIL_CONDITION_UNKNOWN_NOTE_STACKED, "unknown_note_stacked"},
    {CFOIL_CONDITION_UNKNOWN_CODE, "unknown_code"},
    {CFOIL_CONDITION_BARCODE, "barcode"},
    {CFOIL_CONDITION_LINE_NOISY, "line_noisy"},
    {CFOIL_CONDITION_COUNTER_GAP, "counter_gap"},
    {CFOIL_CONDITION_QUEUE_OVERFLOW, "queue_overflow"},
    {CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT, "amount_may_be_short"},
    {CFOIL_CONDITION_OUTCOME_UNKNOWN, "outcome_unknown"},
    {CFOIL_CONDITION_LEDGER_FAILING, "ledger_failing"},
    {CFOIL_CONDITION_IDENTIFIED, "identified"},
};

static const struct word lane_states[] = {
    {CFOIL_LANE_OPENING, "opening"},     {CFOIL_LANE_STARTING, "starting"}, {CFOIL_LANE_IDLE, "idle"},
    {CFOIL_LANE_ACCEPTING, "accepting"}, {CFOIL_LANE_FAULT, "fault"},       {CFOIL_LANE_LOST, "lost"},
    {CFOIL_LANE_ENDED, "ended"},
};

static const struct word accepts[] = {
    {CFOIL_ACCEPT_NONE, "none"},
    {CFOIL_ACCEPT_HOLD, "hold"},
    {CFOIL_ACCEPT_ALL, "all"},
};

static const struct word senses[] = {
    {CFOIL_SENSE_FEEL, "feel"},
    {CFOIL_SENSE_LOOK, "look"},
    {CFOIL_SENSE_TILT, "tilt"},
    {CFOIL_SENSE_TOOL, "tool"},
};

static const struct word answers[] = {
    {CFOIL_ANSWER_AS_IT_SHOULD_BE, "as_it_should_be"},
    {CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE, "not_as_it_should_be"},
    {CFOIL_ANSWER_CANNOT_TELL, "cannot_tell"},
};

static const struct word advices[] = {
    {CFOIL_ADVICE_NONE, "none"},
    {CFOIL_ADVICE_TAKE, "take"},
    {CFOIL_ADVICE_ASK_ANOTHER, "ask_another"},
    {CFOIL_ADVICE_SET_ASIDE, "set_aside"},
    {CFOIL_ADVICE_FEED_AGAIN, "feed_again"},
    {CFOIL_ADVICE_CHECK_MACHINE, "check_machine"},
};

static const struct word dispositions[] = {
    {CFOIL_DISPOSITION_NONE, "none"},           {CFOIL_DISPOSITION_TAKEN, "taken"},
    {CFOIL_DISPOSITION_NOT_TAKEN, "not_taken"}, {CFOIL_DISPOSITION_SET_ASIDE, "set_aside"},
    {CFOIL_DISPOSITION_ABANDONED, "abandoned"},
};

static const struct word checksums[] = {
    {CFOIL_CHECKSUM_NONE, "none"},
    {CFOIL_CHECKSUM_FITS, "fits"},
    {CFOIL_CHECKSUM_DIFFERS, "differs"},
};

static const struct word maturities[] = {
    {CFOIL_MATURITY_EXPERIMENTAL, "experimental"},
    {CFOIL_MATURITY_REPLAY_VERIFIED, "replay_verified"},
    {CFOIL_MATURITY_HARDWARE_VERIFIED, "hardware_verified"},
};

#define NAME_FUNCTION(function, parameter, table)                                                                      \
    const char *function(int32_t parameter)                                                                            \
    {                                                                                                                  \
        return word_of(table, WORD_COUNT(table), parameter);                                                           \
    }

NAME_FUNCTION(name_kind, kind, kinds)
NAME_FUNCTION(name_reason, reason, reasons)
NAME_FUNCTION(name_channel, channel, channels)
NAME_FUNCTION(name_strength, strength, strengths)
NAME_FUNCTION(name_origin, origin, origins)
NAME_FUNCTION(name_condition, condition, conditions)
NAME_FUNCTION(name_lane_state, state, lane_states)
NAME_FUNCTION(name_accept, accept, accepts)
NAME_FUNCTION(name_sense, sense, senses)
NAME_FUNCTION(name_answer, answer, answers)
NAME_FUNCTION(name_advice, advice, advices)
NAME_FUNCTION(name_disposition, disposition, dispositions)
NAME_FUNCTION(name_checksum, checksum, checksums)
NAME_FUNCTION(name_maturity, maturity, maturities)

int32_t name_channel_find(const char *word)
{
    return code_of(channels, WORD_COUNT(channels), word);
}

int32_t name_sense_find(const char *word)
{
    return code_of(senses, WORD_COUNT(senses), word);
}

int32_t name_reason_find(const char *word)
{
    return code_of(reasons, WORD_COUNT(reasons), word);
}

int32_t name_disposition_find(const char *word)
{
    return code_of(dispositions, WORD_COUNT(dispositions), word);
}

int32_t name_kind_find(const char *word)
{
    return code_of(kinds, WORD_COUNT(kinds), word);
}

int32_t name_condition_find(const char *word)
{
    return code_of(conditions, WORD_COUNT(conditions), word);
}

int32_t name_advice_find(const char *word)
{
    return code_of(advices, WORD_COUNT(advices), word);
}
