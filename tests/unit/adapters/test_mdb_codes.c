/*
 * Does every byte of a POLL answer mean what the tables of the fact sheet say, and nothing more?
 */
#include "mdb/codes.h"

#include "test.h"

#include <stdbool.h>

static void every_byte_has_one_class(void **unused)
{
    (void)unused;
    for (uint32_t byte = 0; byte < 256; byte++) {
        enum mdb_class class = mdb_class_of((uint8_t)byte);
        if (byte >= 0x80)
            assert_int_equal(class, MDB_CLASS_ROUTED);
        else if (byte >= 0x40 && byte <= 0x5F)
            assert_int_equal(class, MDB_CLASS_ATTEMPTS);
        else
            assert_int_equal(class, MDB_CLASS_STATUS);
    }
}

static void every_route_is_in_its_place(void **unused)
{
    (void)unused;
    for (uint32_t byte = 0x80; byte < 0x100; byte++) {
        const struct mdb_route_code *code = mdb_route_find((uint8_t)byte);
        assert_int_equal(code->route, byte >> 4 & 7);
        assert_true(code->text[0] != '\0' && code->source[0] != '\0');
        bool money = code->kind == CFOIL_KIND_STACKED;
        assert_int_equal(money, code->route == MDB_ROUTE_STACKED || code->route == MDB_ROUTE_RECYCLER);
    }
}

static void statuses_are_those_of_the_standard(void **unused)
{
    (void)unused;
    uint32_t known = 0;
    for (uint32_t byte = 0; byte < 0x80; byte++) {
        const struct mdb_status_code *code = mdb_status_find((uint8_t)byte);
        bool listed = (byte >= 0x01 && byte <= 0x0C) || (byte >= 0x1B && byte <= 0x1F) ||
                      (byte >= 0x21 && byte <= 0x24) || (byte >= 0x26 && byte <= 0x2A) || byte == 0x2F;
        assert_int_equal(code->effect != MDB_EFFECT_UNKNOWN, listed);
        assert_true(code->text[0] != '\0' && code->source[0] != '\0');
        assert_true(code->kind != CFOIL_KIND_STACKED);
        assert_null(strstr(code->text, "ounterfeit"));
        if (!listed) {
            assert_int_equal(code->condition, CFOIL_CONDITION_UNKNOWN_CODE);
            continue;
        }
        known++;
        assert_int_equal(code->code, byte);
        bool class_possible = code->reason == CFOIL_REASON_NONE || (code->reasons_possible >> code->reason & 1) != 0;
        assert_true(class_possible);
    }
    assert_int_equal(known, 12 + 5 + 4 + 5 + 1);
}

static void conditions_follow_the_vocabulary(void **unused)
{
    (void)unused;
    static const struct {
        uint8_t byte;
        int32_t kind;
        int32_t reason;
        int32_t condition;
    } rows[] = {
        {0x01, CFOIL_KIND_DEVICE, CFOIL_REASON_DEVICE, CFOIL_CONDITION_FAULT},
        {0x02, CFOIL_KIND_DEVICE, CFOIL_REASON_DEVICE, CFOIL_CONDITION_FAULT},
        {0x04, CFOIL_KIND_DEVICE, CFOIL_REASON_DEVICE, CFOIL_CONDITION_FAULT},
        {0x05, CFOIL_KIND_DEVICE, CFOIL_REASON_DEVICE, CFOIL_CONDITION_JAM_REACHABLE},
        {0x07, CFOIL_KIND_DEVICE, CFOIL_REASON_TAMPERING, CFOIL_CONDITION_TAMPERING},
        {0x08, CFOIL_KIND_DEVICE, CFOIL_REASON_DEVICE, CFOIL_CONDITION_STACKER_REMOVED},
        {0x0B, CFOIL_KIND_REJECTED, CFOIL_REASON_NOT_RECOGNISED, CFOIL_CONDITION_NONE},
        {0x0C, CFOIL_KIND_DEVICE, CFOIL_REASON_TAMPERING, CFOIL_CONDITION_TAMPERING},
        {0x27, CFOIL_KIND_DEVICE, CFOIL_REASON_DEVICE, CFOIL_CONDITION_JAM_SAFE},
    };
    for (uint32_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct mdb_status_code *code = mdb_status_find(rows[i].byte);
        assert_int_equal(code->kind, rows[i].kind);
        assert_int_equal(code->reason, rows[i].reason);
        assert_int_equal(code->condition, rows[i].condition);
    }
    uint32_t possible = mdb_status_find(0x0B)->reasons_possible;
    assert_int_equal(possible, 1u << CFOIL_REASON_NOT_RECOGNISED | 1u << CFOIL_REASON_AUTHENTICITY);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_byte_has_one_class),
        cmocka_unit_test(every_route_is_in_its_place),
        cmocka_unit_test(statuses_are_those_of_the_standard),
        cmocka_unit_test(conditions_follow_the_vocabulary),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
