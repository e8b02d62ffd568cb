/*
 * Requests: every fault is told with its place, and nothing that is not understood is answered.
 */
#include "ask.h"

#include "damaged/grid.h"
#include "unit/model/failing.h"

#define HEAD "\"schema\":\"counterfoil.damaged/1\",\"currency\":\"INR\",\"value_minor\":50000,"

static void fault_expect(const char *request, int32_t expected, const char *part)
{
    int32_t result;
    cfoil_error_info error;
    cJSON *answer = ask_try(request, &result, &error);
    assert_null(answer);
    if (result != expected || strstr(error.text, part) == NULL)
        print_error("%s\n  0x%x %s\n", request, (unsigned)result, error.text);
    assert_int_equal(result, expected);
    assert_non_null(strstr(error.text, part));
}

static void what_is_no_request_is_refused(void **state)
{
    (void)state;
    fault_expect("", CFOIL_E_DATA_SYNTAX, "line 1");
    fault_expect("{", CFOIL_E_DATA_SYNTAX, "line 1");
    fault_expect("{\"schema\":1,\n\"schema\":2}", CFOIL_E_DATA_SYNTAX, "line 2");
    fault_expect("[]", CFOIL_E_DATA_SCHEMA, "object");
    fault_expect("{}", CFOIL_E_DATA_SCHEMA, "'schema' is missing");
    fault_expect("{" HEAD "\"colour\":\"red\"}", CFOIL_E_DATA_SCHEMA, "colour: line 1: this key is not known");
    fault_expect("{\"schema\":\"counterfoil.damaged/2\",\"currency\":\"INR\",\"value_minor\":1}", CFOIL_E_DATA_SCHEMA,
                 "must be counterfoil.damaged/1");
    fault_expect("{\"schema\":\"counterfoil.damaged/1\",\"currency\":\"XTS\",\"value_minor\":1}", CFOIL_E_MISSING_PACK,
                 "XTS");
    fault_expect("{\"schema\":\"counterfoil.damaged/1\",\"currency\":\"INR\",\"value_minor\":1}", CFOIL_E_MISSING_NOTE,
                 "no such note");
    fault_expect("{" HEAD "\"series\":\"none\"}", CFOIL_E_MISSING_NOTE, "no such note");
    fault_expect("{" HEAD "\"language\":\"tlh\"}", CFOIL_E_MISSING_LANGUAGE, "tlh");
    fault_expect("{" HEAD "\"conditions\":[]}", CFOIL_E_DATA_SCHEMA, "say what is wrong");
    fault_expect("{" HEAD "\"conditions\":[\"sad\"]}", CFOIL_E_DATA_SCHEMA, "conditions[0]");
    fault_expect("{" HEAD "\"conditions\":[\"soiled\",7]}", CFOIL_E_DATA_SCHEMA, "conditions[1]");
    char *long_one = malloc(REQUEST_SIZE_MAX + 2);
    memset(long_one, ' ', REQUEST_SIZE_MAX + 1);
    long_one[REQUEST_SIZE_MAX + 1] = '\0';
    fault_expect(long_one, CFOIL_E_DATA_SIZE, "64 KiB");
    free(long_one);
}

#define PIECE(text) "{" HEAD "\"pieces\":[{" text "}]}"

static void a_piece_is_measured_in_one_way(void **state)
{
    (void)state;
    static const struct {
        const char *request, *part;
    } rows[] = {
        {PIECE(""), "give one of"},
        {PIECE("\"area_mm2\":1,\"bound_mm2\":1,\"missing_mm\":[{\"length_mm\":1,\"width_mm\":1}]"), "give one of"},
        {PIECE("\"area_mm2\":100"), "belong together"},
        {PIECE("\"area_mm2\":100,\"bound_mm2\":1,\"bound_mm\":1"), "belong together"},
        {PIECE("\"outline_mm\":[[0,0],[1,0],[0,1]]"), "belong together"},
        {PIECE("\"area_mm2\":\"100\",\"bound_mm2\":1"), "must be a number from 0"},
        {PIECE("\"area_mm2\":-0.001,\"bound_mm2\":1"), "must be a number from 0"},
        {PIECE("\"area_mm2\":1e300,\"bound_mm2\":1"), "must be a number from 0"},
        {PIECE("\"area_mm2\":100.0004,\"bound_mm2\":1"), "three decimals"},
        {PIECE("\"area_mm2\":100,\"bound_mm2\":null"), "must be a number from 0"},
        {PIECE("\"area_mm2\":10400,\"bound_mm2\":4"), "larger than the note"},
        {PIECE("\"outline_mm\":[[0,0],[1,0],[0,1,2]],\"bound_mm\":0"), "outline_mm[2]"},
        {PIECE("\"outline_mm\":[[0,0],[1,\"a\"],[0,1]],\"bound_mm\":0"), "outline_mm[1][1]"},
        {PIECE("\"outline_mm\":[[0,0],[2001,0],[0,1]],\"bound_mm\":0"), "outline_mm[1][0]"},
        {PIECE("\"outline_mm\":[[0,0],[1,0]],\"bound_mm\":0"), "three points"},
        {PIECE("\"outline_mm\":[[0,0],[0,0],[1,0],[1,1]],\"bound_mm\":0"), "stands twice"},
        {PIECE("\"outline_mm\":[[0,0],[9,9],[9,0],[0,9]],\"bound_mm\":0"), "crosses"},
        {PIECE("\"outline_mm\":[[-2000,-2000],[2000,-2000],[2000,2000],[-2000,2000]],\"bound_mm\":0"), "far larger"},
        {PIECE("\"outline_mm\":[[0,0],[9,9],[9,0]],\"bound_mm\":-1"), "bound_mm"},
        {PIECE("\"missing_mm\":[{\"length_mm\":0,\"width_mm\":1}],\"bound_mm\":0"), "missing_mm[0].length_mm"},
        {PIECE("\"missing_mm\":[{\"length_mm\":1,\"width_mm\":-1}],\"bound_mm\":0"), "missing_mm[0].width_mm"},
        {PIECE("\"missing_mm\":[7],\"bound_mm\":0"), "object"},
        {PIECE("\"missing_mm\":[{\"length_mm\":160,\"width_mm\":70}],\"bound_mm\":0"), "more is missing"},
        {PIECE("\"squares\":{\"whole\":1}"), "is missing"},
        {PIECE("\"squares\":{\"whole\":-1,\"partly\":0,\"side_mm\":5,\"bar_mm\":100,\"bar_bound_mm\":0}"), "whole"},
        {PIECE("\"squares\":{\"whole\":1,\"partly\":0,\"side_mm\":0,\"bar_mm\":100,\"bar_bound_mm\":0}"), "side_mm"},
        {PIECE("\"squares\":{\"whole\":1,\"partly\":0,\"side_mm\":5,\"bar_mm\":49,\"bar_bound_mm\":0}"), "bar_mm"},
        {PIECE("\"squares\":{\"whole\":1,\"partly\":0,\"side_mm\":5,\"bar_mm\":100,\"bar_bound_mm\":-1}"), "bar_bound"},
        {PIECE("\"squares\":{\"whole\":1,\"partly\":0,\"side_mm\":5,\"bar_mm\":50,\"bar_bound_mm\":51}"),
         "larger than"},
        {PIECE("\"squares\":{\"whole\":1000000,\"partly\":0,\"side_mm\":50,\"bar_mm\":100,\"bar_bound_mm\":0}"),
         "far larger"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        fault_expect(rows[i].request, CFOIL_E_DATA_SCHEMA, rows[i].part);
    fault_expect("{" HEAD "\"pieces\":[{\"area_mm2\":6000,\"bound_mm2\":0},{\"area_mm2\":6000,\"bound_mm2\":0}]}",
                 CFOIL_E_DATA_SCHEMA, "together are larger than one note");
}

static void faults_of_defects_are_told(void **state)
{
    (void)state;
    fault_expect("{" HEAD "\"defects\":[{\"defect\":\"sad\"}]}", CFOIL_E_DATA_SCHEMA, "defects[0].defect");
    fault_expect("{" HEAD "\"defects\":[{\"defect\":\"tear\",\"area_mm2\":-1}]}", CFOIL_E_DATA_SCHEMA, "area_mm2");
    fault_expect("{" HEAD "\"defects\":[{}]}", CFOIL_E_DATA_SCHEMA, "'defect' is missing");
}

static double permille_of(const char *piece)
{
    char body[512];
    (void)snprintf(body, sizeof body, "\"currency\":\"INR\",\"value_minor\":50000,\"pieces\":[{%s}]", piece);
    cJSON *answer = ask(body);
    const cJSON *item = cJSON_GetArrayItem(look(answer, "pieces", NULL), 0);
    double area = look(item, "area_mm2", NULL)->valuedouble;
    cJSON_Delete(answer);
    return area;
}

/* One note of 9900 mm2, half of it gone, told in every way. */
static void every_way_of_measuring_agrees(void **state)
{
    (void)state;
    static const char *const ways[] = {
        "\"area_mm2\":4950,\"bound_mm2\":10",
        "\"outline_mm\":[[0,0],[75,0],[75,66],[0,66]],\"bound_mm\":0.5",
        "\"missing_mm\":[{\"length_mm\":75,\"width_mm\":66}],\"bound_mm\":0",
        "\"missing_mm\":[{\"length_mm\":150,\"width_mm\":66,\"corner\":true}],\"bound_mm\":0",
        "\"squares\":{\"whole\":198,\"partly\":0,\"side_mm\":5,\"bar_mm\":100,\"bar_bound_mm\":0}",
        "\"missing_squares\":{\"whole\":188,\"partly\":20,\"side_mm\":5,\"bar_mm\":100,\"bar_bound_mm\":0}",
    };
    for (size_t i = 0; i < sizeof ways / sizeof ways[0]; i++)
        assert_true(permille_of(ways[i]) > 4949.9 && permille_of(ways[i]) < 4950.1);
}

static void the_largest_piece_may_be_any(void **state)
{
    (void)state;
    /* The second may be as small as 3900 and as large as 4100: at least 4000 is sure by the first, 4100 possible. */
    cJSON *answer = ask("\"currency\":\"INR\",\"value_minor\":50000,\"pieces\":[{\"area_mm2\":4000,\"bound_mm2\":0},"
                        "{\"area_mm2\":4000,\"bound_mm2\":100}]");
    assert_string_equal(look_text(answer, "worth", "outcome"), "half");
    assert_true(look(answer, "worth", "area_mm2")->valuedouble > 4049.9);
    assert_true(look(answer, "worth", "bound_mm2")->valuedouble < 50.1);
    cJSON_Delete(answer);
}

/* A pack that has no scale for the value says nothing of it. */
static void a_value_without_a_scale_is_not_known(void **state)
{
    (void)state;
    struct pack_scale dear = {.from_minor = 100000, .below_minor = 200000, .pair_step = -1};
    struct pack_exchange exchange = {.currency = "INR", .scale_count = 1, .scales = &dear};
    static struct damaged_request request;
    static struct judgement judgement;
    cfoil_error_info error;
    assert_int_equal(damaged_note_find(ask_packs, "INR", 50000, NULL, &request, &error), CFOIL_OK);
    request.exchange = &exchange;
    request.piece_count = 1;
    request.pieces[0] = (struct area){UM2_PER_MM2, 0};
    damaged_judge(&request, &judgement);
    assert_int_equal(judgement.claim.at_least.worth, WORTH_UNKNOWN);
    assert_false(judgement.value_known);
    assert_null(pack_scale_find(&exchange, 200000));
    assert_ptr_equal(pack_scale_find(&exchange, 199999), &dear);
}

/* What a special office may pay cannot be told, so neither can the range. */
static void a_claim_may_have_no_value(void **state)
{
    (void)state;
    cJSON *answer = ask("\"currency\":\"USD\",\"value_minor\":2000,\"pieces\":[{\"area_mm2\":5686,\"bound_mm2\":1}]");
    assert_string_equal(look_text(answer, "worth", "outcome_at_least"), "special_office");
    assert_string_equal(look_text(answer, "worth", "outcome_at_most"), "full");
    assert_true(cJSON_IsNull(look(answer, "worth", "value_at_most_minor")));
    cJSON_Delete(answer);
}

/* ---- Words and page ---- */

static char *text_of(const char *request)
{
    struct damaged_session *session;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char *text = NULL;
    assert_int_equal(damaged_session_open(&memory_heap, request, &session, &error), CFOIL_OK);
    assert_int_equal(damaged_session_text(session, ask_packs, &text, &error), CFOIL_OK);
    damaged_session_close(session);
    return text;
}

static void text_expect(const char *request, const char *part)
{
    char *text = text_of(request);
    if (strstr(text, part) == NULL)
        print_error("%s\nlacks: %s\n", text, part);
    assert_non_null(strstr(text, part));
    assert_null(strchr(text, '{')); /* every name was filled */
    assert_non_null(strstr(text, "aid, not proof"));
    memory_release(&memory_heap, text);
}

static void the_answer_is_worded(void **state)
{
    (void)state;
    text_expect("{" HEAD "\"pieces\":[{\"area_mm2\":6200,\"bound_mm2\":50.126}]}",
                "A bank is likely to pay half the value: INR 250.\n"
                "Measured: 6200 mm\xC2\xB2 (give or take 50.13) of 9900 mm\xC2\xB2.\n");
    text_expect(
        "{" HEAD "\"pieces\":[{\"area_mm2\":8000,\"bound_mm2\":1}]}",
        "Too close to a limit: the bank measures. It may be:\n"
        "- A bank is likely to pay half the value: INR 250.\n- A bank is likely to pay the full value: INR 500.\n");
    text_expect("{" HEAD "\"conditions\":[\"part_missing\"]}", "Measure it first");
    text_expect("{" HEAD "\"conditions\":[\"mismatched\"]}", "Measure it first");
    text_expect("{" HEAD "\"conditions\":[\"burnt\"]}",
                "Where: To an issue office of the central bank, claims section.");
    text_expect("{" HEAD "\"conditions\":[\"soiled\"]}", "Counted as whole");
    text_expect("{" HEAD "\"conditions\":[\"contaminated\"]}", "No rule for this is known here");
    text_expect("{" HEAD "\"conditions\":[\"mismatched\"],\"pieces\":[{\"area_mm2\":4950,\"bound_mm2\":0},"
                "{\"area_mm2\":4000,\"bound_mm2\":1}]}",
                "Each piece counts by itself; together INR 250 to INR 500.");
    text_expect(
        "{\"schema\":\"counterfoil.damaged/1\",\"currency\":\"USD\",\"value_minor\":2000,\"conditions\":[\"burnt\"]}",
        "Packing: Leave the pieces as found");
    text_expect("{\"schema\":\"counterfoil.damaged/1\",\"currency\":\"EUR\",\"value_minor\":2000,"
                "\"conditions\":[\"dye_stained\"]}",
                "Better not taken.");
    text_expect("{\"schema\":\"counterfoil.damaged/1\",\"currency\":\"INR\",\"value_minor\":200000,"
                "\"conditions\":[\"soiled\"]}",
                "19 issue offices");
    text_expect("{\"schema\":\"counterfoil.damaged/1\",\"currency\":\"EUR\",\"value_minor\":2000,\"defects\":"
                "[{\"defect\":\"tear\",\"how\":\"vertical\",\"length_mm\":9,\"width_mm\":5}]}",
                "tear, limit of machines, width > 4 mm + length > 8 mm: not fit (from memory)");
}

static void a_rule_is_told_once(void **state)
{
    (void)state;
    char *text = text_of("{" HEAD "\"conditions\":[\"burnt\",\"brittle\",\"soiled\"]}");
    const char *first = strstr(text, "A bank branch does not take it");
    assert_non_null(first);
    assert_null(strstr(first + 1, "A bank branch does not take it"));
    assert_non_null(strstr(first, "Dirty from use"));
    memory_release(&memory_heap, text);
}

/* In every language each message is there, and the numbers are in it. */
static void the_answer_speaks_every_language(void **state)
{
    (void)state;
    static const char *const languages[] = {"de", "fr", "it", "es", "hi"};
    for (size_t i = 0; i < 5; i++) {
        char request[512];
        (void)snprintf(request, sizeof request,
                       "{" HEAD "\"language\":\"%s\",\"conditions\":[\"part_missing\"],\"pieces\":[{\"area_mm2\":8000,"
                       "\"bound_mm2\":1}],\"defects\":[{\"defect\":\"hole\",\"area_mm2\":9}]}",
                       languages[i]);
        char *text = text_of(request);
        assert_non_null(strstr(text, "INR 250"));
        assert_non_null(strstr(text, "8000"));
        assert_null(strstr(text, "A bank"));
        assert_null(strstr(text, "worth."));
        assert_null(strstr(text, "fit."));
        memory_release(&memory_heap, text);
    }
}

static unsigned count_of(const char *text, const char *part)
{
    unsigned count = 0;
    for (const char *at = strstr(text, part); at != NULL; at = strstr(at + 1, part))
        count++;
    return count;
}

/* 150 x 66 mm in squares of 5: 31 lines down, 15 lines across (to 70 mm), and 3 strokes of the bar. */
static void the_page_is_to_scale(void **state)
{
    (void)state;
    struct damaged_request note;
    cfoil_error_info error;
    memset(&note, 0, sizeof note);
    assert_int_equal(damaged_note_find(ask_packs, "INR", 50000, NULL, &note, &error), CFOIL_OK);
    struct drawing drawing = {NULL, 0, 0};
    grid_write(ask_packs, "en", &note, 5, &drawing);
    char *page = malloc(drawing.length + 1);
    drawing = (struct drawing){page, drawing.length + 1, 0};
    grid_write(ask_packs, "en", &note, 5, &drawing);
    assert_int_equal(strlen(page), drawing.length);
    assert_non_null(strstr(page, "width=\"297mm\" height=\"210mm\" viewBox=\"0 0 297 210\"")); /* A4, ISO 216 */
    assert_non_null(strstr(page, "<rect x=\"15\" y=\"45\" width=\"150\" height=\"66\""));
    assert_non_null(strstr(page, "M15 36h100"));
    assert_int_equal(count_of(page, "<path"), 31 + 15 + 2);
    assert_non_null(strstr(page, "100 mm long"));
    assert_string_equal(page + strlen(page) - 7, "</svg>\n");
    free(page);
}

/* ---- Memory ---- */

static const char *const whole_requests[] = {
    "{" HEAD "\"conditions\":[\"two_pieces\",\"contaminated\"],\"pieces\":[{\"area_mm2\":8000,\"bound_mm2\":1},"
    "{\"outline_mm\":[[0,0],[20,0],[20,20]],\"bound_mm\":0.5}],\"defects\":[{\"defect\":\"hole\",\"area_mm2\":9},"
    "{\"defect\":\"soil\"}]}",
    "{" HEAD "\"conditions\":[\"mismatched\"],\"pieces\":[{\"area_mm2\":4950,\"bound_mm2\":0},"
    "{\"area_mm2\":4000,\"bound_mm2\":1}]}",
    "{" HEAD "\"series\":\"P\",\"conditions\":[\"soiled\"]}",
    "{" HEAD "\"defects\":[{\"defect\":\"hole\"}]}",
};

/* Each allocation refused in turn: told as such, nothing is left, and in the end the answer is there. */
static void too_little_memory_is_told(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof whole_requests / sizeof whole_requests[0]; i++) {
        cJSON *answer = NULL;
        long before = failing_blocks;
        for (long count = 0; answer == NULL; count++) {
            struct damaged_session *session;
            cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
            failing_begin(count);
            int32_t result = damaged_session_open(&failing_memory, whole_requests[i], &session, &error);
            if (result == CFOIL_OK)
                result = damaged_session_answer(session, ask_packs, &answer, &error);
            damaged_session_close(session);
            failing_stop();
            assert_int_equal(result, answer != NULL ? CFOIL_OK : CFOIL_E_MEMORY);
            if (answer == NULL)
                assert_int_equal(failing_blocks, before);
        }
        cJSON_Delete(answer);
        failing_end();
        assert_int_equal(failing_blocks, before);
    }
}

static void too_little_memory_for_words_is_told(void **state)
{
    (void)state;
    char *text = NULL;
    for (long count = 0; text == NULL; count++) {
        struct damaged_session *session;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        failing_begin(count);
        int32_t result = damaged_session_open(&failing_memory, whole_requests[0], &session, &error);
        if (result == CFOIL_OK)
            result = damaged_session_text(session, ask_packs, &text, &error);
        damaged_session_close(session);
        failing_stop();
        assert_int_equal(result, text != NULL ? CFOIL_OK : CFOIL_E_MEMORY);
    }
    memory_release(&failing_memory, text);
    failing_end();
    assert_int_equal(failing_blocks, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_no_request_is_refused),
        cmocka_unit_test(a_piece_is_measured_in_one_way),
        cmocka_unit_test(faults_of_defects_are_told),
        cmocka_unit_test(every_way_of_measuring_agrees),
        cmocka_unit_test(the_largest_piece_may_be_any),
        cmocka_unit_test(a_value_without_a_scale_is_not_known),
        cmocka_unit_test(a_claim_may_have_no_value),
        cmocka_unit_test(the_answer_is_worded),
        cmocka_unit_test(a_rule_is_told_once),
        cmocka_unit_test(the_answer_speaks_every_language),
        cmocka_unit_test(the_page_is_to_scale),
        cmocka_unit_test(too_little_memory_is_told),
        cmocka_unit_test(too_little_memory_for_words_is_told),
    };
    return cmocka_run_group_tests(tests, ask_open, ask_end);
}
