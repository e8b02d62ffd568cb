/*
 * Do the tables of event and fault codes say what the standard's codes mean, no more, and never money?
 */
#include "cctalk/codes.h"

#include "test.h"

#include <ctype.h>
#include <stdbool.h>

#define BIT(reason) (1u << (reason))
#define NO_CHANNEL  (-1)

/* What each event code must be told as. Source of the codes and categories: ccTalk Generic Specification Part 3, bill
 * event codes, FROM MEMORY; the mapping to our own terms is our own. */
struct expected {
    int code;
    enum cctalk_category category;
    int32_t kind;
    int32_t reason;
    uint32_t reasons_possible;
    int32_t condition;
    int32_t channel;
    int32_t strength;
};

#define NOT_ENABLED(code)                                                                                              \
    {                                                                                                                  \
        code, CCTALK_CATEGORY_STATUS, CFOIL_KIND_REJECTED, CFOIL_REASON_NOT_ENABLED, BIT(CFOIL_REASON_NOT_ENABLED),    \
            CFOIL_CONDITION_NONE, NO_CHANNEL, CFOIL_STRENGTH_NONE                                                      \
    }
#define DEVICE(code, category, condition)                                                                              \
    {                                                                                                                  \
        code, category, CFOIL_KIND_DEVICE, CFOIL_REASON_DEVICE, BIT(CFOIL_REASON_DEVICE), condition, NO_CHANNEL,       \
            CFOIL_STRENGTH_NONE                                                                                        \
    }
#define STATUS(code, condition) DEVICE(code, CCTALK_CATEGORY_STATUS, condition)
#define FATAL(code, condition)  DEVICE(code, CCTALK_CATEGORY_FATAL, condition)
#define FRAUD(code)                                                                                                    \
    {                                                                                                                  \
        code, CCTALK_CATEGORY_FRAUD, CFOIL_KIND_DEVICE, CFOIL_REASON_TAMPERING, BIT(CFOIL_REASON_TAMPERING),           \
            CFOIL_CONDITION_TAMPERING, NO_CHANNEL, CFOIL_STRENGTH_NONE                                                 \
    }

static const struct expected expected_events[] = {
    NOT_ENABLED(0), /* acceptor disabled */
    {1, CCTALK_CATEGORY_STATUS, CFOIL_KIND_RETURNED, CFOIL_REASON_NONE, 0, CFOIL_CONDITION_NONE, NO_CHANNEL,
     CFOIL_STRENGTH_NONE},
    /* failed validation or not identified: the link carries no more than that */
    {2, CCTALK_CATEGORY_REJECT, CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY,
     BIT(CFOIL_REASON_AUTHENTICITY) | BIT(CFOIL_REASON_NOT_RECOGNISED), CFOIL_CONDITION_NONE, CFOIL_CHANNEL_UNKNOWN,
     CFOIL_STRENGTH_WEAK},
    {3, CCTALK_CATEGORY_REJECT, CFOIL_KIND_REJECTED, CFOIL_REASON_HANDLING, BIT(CFOIL_REASON_HANDLING),
     CFOIL_CONDITION_NONE, CFOIL_CHANNEL_TRANSPORT, CFOIL_STRENGTH_CLEAR},
    NOT_ENABLED(4), /* by command */
    NOT_ENABLED(5), /* by switch */
    FATAL(6, CFOIL_CONDITION_JAM_REACHABLE),
    FATAL(7, CFOIL_CONDITION_JAM_SAFE),
    FRAUD(8), /* pulled backwards */
    FRAUD(9), /* tamper */
    STATUS(10, CFOIL_CONDITION_STACKER_IN_PLACE),
    STATUS(11, CFOIL_CONDITION_STACKER_REMOVED),
    STATUS(12, CFOIL_CONDITION_STACKER_IN_PLACE),
    FATAL(13, CFOIL_CONDITION_FAULT),
    STATUS(14, CFOIL_CONDITION_STACKER_FULL),
    FATAL(15, CFOIL_CONDITION_JAM_SAFE),
    FATAL(16, CFOIL_CONDITION_JAM_SAFE),
    FRAUD(17), /* optical */
    FRAUD(18), /* string */
    FATAL(19, CFOIL_CONDITION_FAULT),
    STATUS(20, CFOIL_CONDITION_BARCODE),
    STATUS(21, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED),
};
enum { EVENT_CODES = sizeof expected_events / sizeof expected_events[0] };

static void events_mean_what_the_standard_says(void **state)
{
    (void)state;
    assert_int_equal(EVENT_CODES, 22);
    for (int code = 0; code < EVENT_CODES; code++) {
        const struct expected *expected = &expected_events[code];
        const struct cctalk_event_code *row = cctalk_event_code_find((uint8_t)code);
        assert_int_equal(expected->code, code);
        assert_int_equal(row->code, code); /* the table is dense */
        assert_int_equal(row->category, expected->category);
        assert_int_equal(row->kind, expected->kind);
        assert_int_equal(row->reason, expected->reason);
        assert_int_equal(row->reasons_possible, expected->reasons_possible);
        assert_int_equal(row->condition, expected->condition);
        assert_int_equal(row->channel, expected->channel);
        assert_int_equal(row->strength, expected->strength);
    }
}

static void reserved_events_are_unknown(void **state)
{
    (void)state;
    const struct cctalk_event_code *unknown = cctalk_event_code_find(22);
    for (int code = 22; code <= 255; code++)
        assert_ptr_equal(cctalk_event_code_find((uint8_t)code), unknown);
    assert_int_equal(unknown->category, CCTALK_CATEGORY_UNKNOWN);
    assert_int_equal(unknown->kind, CFOIL_KIND_DEVICE);
    assert_int_equal(unknown->condition, CFOIL_CONDITION_UNKNOWN_CODE);
    assert_int_equal(unknown->reason, CFOIL_REASON_NONE);
    assert_int_equal(unknown->reasons_possible, 0);
    assert_int_equal(unknown->channel, NO_CHANNEL);
    assert_int_equal(unknown->strength, CFOIL_STRENGTH_NONE);
    for (int code = 0; code < EVENT_CODES; code++) {
        assert_ptr_not_equal(cctalk_event_code_find((uint8_t)code), unknown);
        assert_int_not_equal(cctalk_event_code_find((uint8_t)code)->condition, CFOIL_CONDITION_UNKNOWN_CODE);
        assert_int_not_equal(cctalk_event_code_find((uint8_t)code)->category, CCTALK_CATEGORY_UNKNOWN);
    }
}

/* Is `word` in the text, in any case? */
static bool text_has(const char *text, const char *word)
{
    size_t length = strlen(word);
    for (; *text != '\0'; text++) {
        size_t same = 0;
        while (same < length && tolower((unsigned char)text[same]) == word[same])
            same++;
        if (same == length)
            return true;
    }
    return false;
}

/* One line that fits into the event, and no verdict on a note. */
static void assert_text_sane(const char *text, size_t capacity)
{
    assert_non_null(text);
    assert_in_range(strlen(text), 4, capacity - 1);
    static const char *const verdicts[] = {"counterfeit", "fake", "forged", "forgery", "genuine", "false note"};
    for (size_t i = 0; i < sizeof verdicts / sizeof verdicts[0]; i++)
        assert_false(text_has(text, verdicts[i]));
    for (const char *at = text; *at != '\0'; at++)
        assert_in_range((unsigned char)*at, ' ', '~');
}

static void every_event_row_is_sane(void **state)
{
    (void)state;
    const cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    for (int code = 0; code <= 255; code++) {
        const struct cctalk_event_code *row = cctalk_event_code_find((uint8_t)code);
        assert_non_null(row);
        /* Codes with the first byte 0 are never money and never a held note. */
        assert_true(row->kind == CFOIL_KIND_RETURNED || row->kind == CFOIL_KIND_REJECTED ||
                    row->kind == CFOIL_KIND_DEVICE);
        assert_in_range(row->reason, CFOIL_REASON_NONE, CFOIL_REASON_TAMPERING);
        assert_in_range(row->condition, CFOIL_CONDITION_NONE, CFOIL_CONDITION_IDENTIFIED);
        /* The reason acted on is one of those possible, and nothing else is in the mask. */
        assert_true((row->reason == CFOIL_REASON_NONE) == (row->reasons_possible == 0));
        assert_true(row->reason == CFOIL_REASON_NONE || (row->reasons_possible & BIT(row->reason)) != 0);
        assert_int_equal(row->reasons_possible & ~(BIT(CFOIL_REASON_TAMPERING + 1) - 1u), 0);
        assert_int_equal(row->reasons_possible & BIT(CFOIL_REASON_NONE), 0);
        /* A device event names its condition; an event of a note names none. */
        assert_true((row->kind == CFOIL_KIND_DEVICE) == (row->condition != CFOIL_CONDITION_NONE));
        assert_true((row->channel == NO_CHANNEL) == (row->strength == CFOIL_STRENGTH_NONE));
        assert_in_range(row->channel + 1, 0, CFOIL_CHANNEL_TRANSPORT + 1);
        assert_text_sane(row->text, sizeof event.text);
        assert_text_sane(row->source, 200);
        assert_true(text_has(row->source, "memory")); /* no bill event code was re-read */
    }
}

static void event_texts_are_distinct(void **state)
{
    (void)state;
    for (int code = 0; code <= EVENT_CODES; code++) {
        for (int other = 0; other < code; other++)
            assert_string_not_equal(cctalk_event_code_find((uint8_t)code)->text,
                                    cctalk_event_code_find((uint8_t)other)->text);
    }
}

/* Fault codes of the self-check. Source: ccTalk Generic Specification Part 3, fault codes, FROM MEMORY, except the rows
 * marked 'd', which are also in the fault table of a coin acceptor's technical manual, issue 5.0 (January 2005), p. 41,
 * Tables 15 to 17, one source; there code 1 reads 'EEPROM checksum'. `word` must be in our text, `extra` in our name of
 * the second byte. */
static const struct {
    int code;
    char trust; /* 'd' device table, 'm' memory */
    const char *extra;
    const char *word;
} expected_faults[] = {
    {1, 'd', NULL, "eeprom checksum"},
    {2, 'd', "coil", "coils"},
    {3, 'd', NULL, "credit sensor"},
    {4, 'd', NULL, "piezo sensor"},
    {5, 'm', NULL, "reflective sensor"},
    {6, 'm', NULL, "diameter sensor"},
    {7, 'm', NULL, "wake-up sensor"},
    {8, 'd', "sensor", "sorter exit"},
    {9, 'm', NULL, "non-volatile memory checksum"},
    {10, 'm', NULL, "coin dispensing"},
    {11, 'm', NULL, "low level sensor"},
    {12, 'm', NULL, "high level sensor"},
    {13, 'm', NULL, "coin counting"},
    {14, 'm', NULL, "keypad"},
    {15, 'm', NULL, "button"},
    {16, 'm', NULL, "display"},
    {17, 'm', NULL, "coin auditing"},
    {18, 'm', NULL, "reject sensor"},
    {19, 'm', NULL, "coin return"},
    {20, 'm', NULL, "string detector"},
    {21, 'm', NULL, "rim sensor"},
    {22, 'd', NULL, "temperature sensor"}, /* thermistor */
    {23, 'm', "device", "payout motor"},
    {24, 'm', "device", "payout timeout"},
    {25, 'm', "device", "payout jammed"},
    {26, 'm', "device", "payout sensor"},
    {27, 'm', "device", "level sensor"},
    {28, 'm', NULL, "personality module not fitted"},
    {29, 'm', NULL, "personality module checksum"},
    {30, 'm', NULL, "rom checksum"},
    {31, 'm', "slave address", "missing"},
    {32, 'm', "slave address", "internal communication"},
    {33, 'm', NULL, "supply voltage"},
    {34, 'd', NULL, "temperature outside limits"},
    {35, 'm', NULL, "coin calibration"},
    {36, 'm', "sensor", "validation sensor"},
    {37, 'm', NULL, "transport motor"},
    {38, 'm', NULL, "stacker"},
    {39, 'm', NULL, "note jammed"},
    {40, 'm', NULL, "memory test"},
    {41, 'm', NULL, "string sensor"},
    {42, 'm', NULL, "open"},
    {43, 'm', NULL, "close"},
    {44, 'm', NULL, "cash box missing"},
    {45, 'm', NULL, "cash box full"},
    {46, 'm', NULL, "erase"},
    {47, 'm', NULL, "write"},
    {48, 'm', "device", "does not answer"},
    {49, 'm', "sensor", "optical sensor"},
    {50, 'm', NULL, "battery"},
    {51, 'm', NULL, "door open"},
    {52, 'm', NULL, "microswitch"},
    {53, 'm', NULL, "clock"},
    {54, 'm', NULL, "firmware"},
    {55, 'm', NULL, "initialisation"},
    {56, 'm', NULL, "supply current"},
    {57, 'm', NULL, "bootloader"},
    {255, 'm', NULL, "unspecified"},
};
enum { FAULT_CODES = sizeof expected_faults / sizeof expected_faults[0] };

static void faults_mean_what_the_standard_says(void **state)
{
    (void)state;
    for (int i = 0; i < FAULT_CODES; i++) {
        const struct cctalk_fault_code *row = cctalk_fault_code_find((uint8_t)expected_faults[i].code);
        assert_non_null(row);
        assert_int_equal(row->code, expected_faults[i].code);
        assert_text_sane(row->text, 120);
        assert_text_sane(row->source, 120);
        if (!text_has(row->text, expected_faults[i].word))
            fail_msg("fault %d reads '%s'", row->code, row->text);
        if (expected_faults[i].extra == NULL)
            assert_null(row->extra);
        else
            assert_string_equal(row->extra, expected_faults[i].extra);
        assert_int_equal(text_has(row->source, "device fault table"), expected_faults[i].trust == 'd');
        assert_int_equal(text_has(row->source, "memory"), expected_faults[i].trust == 'm');
        for (int other = 0; other < i; other++)
            assert_string_not_equal(row->text, cctalk_fault_code_find((uint8_t)expected_faults[other].code)->text);
    }
}

/* 0 is 'no fault', which is no row; 58 to 254 are not in the standard as remembered. */
static void other_fault_codes_are_unknown(void **state)
{
    (void)state;
    assert_null(cctalk_fault_code_find(0));
    for (int code = 58; code <= 254; code++)
        assert_null(cctalk_fault_code_find((uint8_t)code));
    for (int code = 1; code <= 57; code++)
        assert_non_null(cctalk_fault_code_find((uint8_t)code));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(events_mean_what_the_standard_says),
        cmocka_unit_test(reserved_events_are_unknown),
        cmocka_unit_test(every_event_row_is_sane),
        cmocka_unit_test(event_texts_are_distinct),
        cmocka_unit_test(faults_mean_what_the_standard_says),
        cmocka_unit_test(other_fault_codes_are_unknown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
