/*
 * The small helpers of the model: memory, error lines, words for codes, record ids.
 */
#include "model/error.h"
#include "model/memory.h"
#include "model/names.h"
#include "model/uuid.h"
#include "unit/model/failing.h"

#include "test.h"

static void memory_is_zeroed_and_its_failure_told(void **state)
{
    (void)state;
    unsigned char *block = memory_allocate(&memory_heap, 64);
    for (int i = 0; i < 64; i++)
        assert_int_equal(block[i], 0);
    memory_release(&memory_heap, block);
    block = memory_allocate(&memory_heap, 0);
    assert_non_null(block);
    memory_release(&memory_heap, block);
    memory_release(&memory_heap, NULL);
    failing_after(0);
    assert_null(memory_allocate(&failing_memory, 1));
    assert_null(memory_text_copy(&failing_memory, "text"));
    failing_stop();
    char *copy = memory_text_copy(&failing_memory, "text");
    assert_string_equal(copy, "text");
    memory_release(&failing_memory, copy);
    copy = memory_text_copy(&failing_memory, NULL);
    assert_string_equal(copy, "");
    memory_release(&failing_memory, copy);
    assert_int_equal(failing_blocks, 0);
}

static void errors_carry_code_area_and_one_line(void **state)
{
    (void)state;
    assert_int_equal(error_set(NULL, CFOIL_E_TIME_OUT, 1, "area", "never read %d", 1), CFOIL_E_TIME_OUT);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    error.line = 12;
    assert_int_equal(error_set(&error, CFOIL_E_PORT_BUSY, 16, "an area that is long", "%s %d", "Close it:", 5),
                     CFOIL_E_PORT_BUSY);
    assert_int_equal(error.struct_size, sizeof error);
    assert_int_equal(error.result, CFOIL_E_PORT_BUSY);
    assert_int_equal(error.os_code, 16);
    assert_int_equal(error.line, 0);
    assert_string_equal(error.area, "an area that is");
    assert_string_equal(error.text, "Close it: 5");
    char line[400];
    memset(line, 'x', sizeof line);
    line[254] = '\xC3';
    line[255] = '\xA4';
    line[399] = '\0';
    error_set(&error, CFOIL_E_PORT_BUSY, 0, "", "%s", line);
    assert_int_equal(strlen(error.text), 254);
    assert_int_equal(error_memory_set(&error, "model"), CFOIL_E_MEMORY);
    assert_int_equal(error.result, CFOIL_E_MEMORY);
    assert_true(error.text[0] != '\0');
}

/* Each code of a range has a word of its own, in lower case with '_'; the codes next to the range have none. */
static void words_are_distinct(const char *(*name)(int32_t), int32_t first, int32_t last)
{
    for (int32_t code = first; code <= last; code++) {
        const char *word = name(code);
        assert_int_equal(strspn(word, "abcdefghijklmnopqrstuvwxyz_"), strlen(word));
        assert_string_not_equal(word, "unknown");
        for (int32_t other = first; other < code; other++)
            assert_string_not_equal(word, name(other));
    }
    assert_string_equal(name(first - 1), "unknown");
    assert_string_equal(name(last + 1), "unknown");
}

static void every_code_has_a_word(void **state)
{
    (void)state;
    words_are_distinct(name_kind, CFOIL_KIND_HELD, CFOIL_KIND_LANE_STATE);
    words_are_distinct(name_reason, CFOIL_REASON_NONE, CFOIL_REASON_TAMPERING);
    words_are_distinct(name_channel, CFOIL_CHANNEL_UNKNOWN, CFOIL_CHANNEL_TRANSPORT);
    words_are_distinct(name_strength, CFOIL_STRENGTH_NONE, CFOIL_STRENGTH_STRONG);
    words_are_distinct(name_origin, CFOIL_ORIGIN_DEVICE, CFOIL_ORIGIN_LIBRARY);
    words_are_distinct(name_condition, CFOIL_CONDITION_NONE, CFOIL_CONDITION_IDENTIFIED);
    words_are_distinct(name_lane_state, CFOIL_LANE_OPENING, CFOIL_LANE_ENDED);
    words_are_distinct(name_accept, CFOIL_ACCEPT_NONE, CFOIL_ACCEPT_ALL);
    words_are_distinct(name_sense, CFOIL_SENSE_FEEL, CFOIL_SENSE_TOOL);
    words_are_distinct(name_answer, CFOIL_ANSWER_AS_IT_SHOULD_BE, CFOIL_ANSWER_CANNOT_TELL);
    words_are_distinct(name_advice, CFOIL_ADVICE_NONE, CFOIL_ADVICE_CHECK_MACHINE);
    words_are_distinct(name_disposition, CFOIL_DISPOSITION_NONE, CFOIL_DISPOSITION_ABANDONED);
    words_are_distinct(name_checksum, CFOIL_CHECKSUM_NONE, CFOIL_CHECKSUM_DIFFERS);
    words_are_distinct(name_maturity, CFOIL_MATURITY_EXPERIMENTAL, CFOIL_MATURITY_HARDWARE_VERIFIED);
}

static void words_lead_back_to_their_codes(void **state)
{
    (void)state;
    for (int32_t code = CFOIL_CHANNEL_UNKNOWN; code <= CFOIL_CHANNEL_TRANSPORT; code++)
        assert_int_equal(name_channel_find(name_channel(code)), code);
    for (int32_t code = CFOIL_SENSE_FEEL; code <= CFOIL_SENSE_TOOL; code++)
        assert_int_equal(name_sense_find(name_sense(code)), code);
    for (int32_t code = CFOIL_REASON_NONE; code <= CFOIL_REASON_TAMPERING; code++)
        assert_int_equal(name_reason_find(name_reason(code)), code);
    for (int32_t code = CFOIL_DISPOSITION_NONE; code <= CFOIL_DISPOSITION_ABANDONED; code++)
        assert_int_equal(name_disposition_find(name_disposition(code)), code);
    assert_int_equal(name_channel_find("no such word"), -1);
    assert_int_equal(name_sense_find(NULL), -1);
}

/* RFC 9562 appendix A.6: the example of a version 7 UUID, field by field. */
static void record_ids_are_uuids_of_version_7(void **state)
{
    (void)state;
    char text[UUID_TEXT_SIZE];
    static const uint8_t example[10] = {0x0C, 0xC3, 0x18, 0xC4, 0xDC, 0x0C, 0x0C, 0x07, 0x39, 0x8F};
    uuid_v7_text(INT64_C(0x017F22E279B0), example, text);
    assert_string_equal(text, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    /* The bits of version and variant do not depend on the random bytes. */
    static const uint8_t ones[10] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    static const uint8_t zeros[10] = {0};
    uuid_v7_text(INT64_C(0xFFFFFFFFFFFF), ones, text);
    assert_string_equal(text, "ffffffff-ffff-7fff-bfff-ffffffffffff");
    uuid_v7_text(0, zeros, text);
    assert_string_equal(text, "00000000-0000-7000-8000-000000000000");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(memory_is_zeroed_and_its_failure_told),
        cmocka_unit_test(errors_carry_code_area_and_one_line),
        cmocka_unit_test(every_code_has_a_word),
        cmocka_unit_test(words_lead_back_to_their_codes),
        cmocka_unit_test(record_ids_are_uuids_of_version_7),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
