/*
 * The calls about kept notes, open cases and staff with each allocation of the process refused once, and from there on: a
 * clear answer, nothing half done, nothing lost, and the same call succeeds afterwards.
 */
#include "failing_heap.h"
#include "ledger_copy.h"
#include "test.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

struct world {
    char folder[64];
    char path[96];
    cfoil_context *context;
    cfoil_ledger *ledger;
    cfoil_case *doubt;
    cfoil_record kept;
    char open_case[40];
    cfoil_case *made_case;
    cfoil_session *session;
};

static char text[65536];

static void case_open(struct world *world, cfoil_case **doubt)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.ledger = world->ledger;
    options.currency = "EUR";
    options.value_minor = 5000;
    options.sale = "4711";
    options.jurisdiction = "DE";
    assert_int_equal(cfoil_case_open(world->context, &options, doubt), CFOIL_OK);
}

static int32_t step_take(struct world *world, int32_t move)
{
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    options.move = move;
    options.case_id = move == CFOIL_CUSTODY_FIND ? NULL : world->kept.case_id;
    options.staff = "07";
    options.place = "safe";
    options.envelope = "E 1";
    options.why = "as told";
    options.currency = "EUR";
    options.value_minor = 2000;
    return cfoil_custody_move(world->ledger, &options, &world->kept);
}

static void world_open(struct world *world)
{
    memset(world, 0, sizeof *world);
    world->kept = (cfoil_record)CFOIL_RECORD_INIT;
    ledger_copy_folder(world->folder, "keep");
    snprintf(world->path, sizeof world->path, "%s/ledger", world->folder);
    assert_int_equal(cfoil_context_open(NULL, &world->context), CFOIL_OK);
    cfoil_ledger_options ledger = CFOIL_LEDGER_OPTIONS_INIT;
    ledger.path = world->path;
    ledger_copy_write(world->context, world->path);
    assert_int_equal(cfoil_ledger_open(world->context, &ledger, &world->ledger), CFOIL_OK);
    case_open(world, &world->doubt);
    assert_int_equal(cfoil_case_answer(world->doubt, "watermark", CFOIL_ANSWER_CANNOT_TELL), CFOIL_OK);
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = CFOIL_KIND_REJECTED;
    event.reason = CFOIL_REASON_AUTHENTICITY;
    assert_int_equal(cfoil_case_presentation_add(world->doubt, &event), CFOIL_OK);
    assert_int_equal(cfoil_case_serial_set(world->doubt, "VA0436214792", NULL), CFOIL_OK);
    cfoil_tender tender = CFOIL_TENDER_INIT;
    assert_int_equal(cfoil_tender_check(world->ledger, "4711", &tender), CFOIL_OK);
    snprintf(world->open_case, sizeof world->open_case, "%s", tender.case_id);
    assert_int_equal(step_take(world, CFOIL_CUSTODY_FIND), CFOIL_OK);
}

static void world_close(struct world *world)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    assert_int_equal(cfoil_ledger_verify(world->ledger, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
    cfoil_context_close(world->context);
    static const char *const endings[] = {"", "-wal", "-shm", ".key"};
    for (int i = 0; i < 4; i++) {
        char path[128];
        snprintf(path, sizeof path, "%s%s", world->path, endings[i]);
        unlink(path);
    }
    assert_int_equal(rmdir(world->folder), 0);
}

/* ---- The calls under test ---- */

static int32_t call_resume(struct world *world)
{
    return cfoil_case_resume(world->context, world->ledger, world->open_case, &world->made_case);
}

static int32_t call_tender(struct world *world)
{
    cfoil_tender tender = CFOIL_TENDER_INIT;
    return cfoil_tender_check(world->ledger, "4711", &tender);
}

static int32_t call_find(struct world *world)
{
    return step_take(world, CFOIL_CUSTODY_FIND);
}

static int32_t call_seal(struct world *world)
{
    return step_take(world, CFOIL_CUSTODY_SEAL);
}

static int32_t call_lists(struct world *world)
{
    int32_t result = CFOIL_OK;
    for (int32_t list = CFOIL_LIST_OPEN_CASES; list <= CFOIL_LIST_KEYS && result == CFOIL_OK; list++) {
        const char *only = list == CFOIL_LIST_CASE ? world->kept.case_id : NULL;
        result = cfoil_ledger_list_json(world->ledger, list, only, text, sizeof text, NULL);
    }
    return result;
}

static int32_t piece_take(void *user, const char *bytes, size_t length)
{
    (void)user;
    (void)bytes;
    (void)length;
    return CFOIL_OK;
}

static int32_t call_export(struct world *world)
{
    cfoil_export_options options = CFOIL_EXPORT_OPTIONS_INIT;
    options.write = piece_take;
    int32_t result = cfoil_ledger_export(world->ledger, &options);
    options.format = CFOIL_EXPORT_CSV;
    options.table = CFOIL_TABLE_CUSTODY;
    return result == CFOIL_OK ? cfoil_ledger_export(world->ledger, &options) : result;
}

static const char history[] =
    "{\"schema\":\"counterfoil.event/1\",\"record\":\"018f22e2-79b0-7cc3-98c4-dc0c0c07398f\",\"lane\":\"1\","
    "\"seq\":1,\"time\":\"2025-11-24T16:00:00.000Z\",\"kind\":\"stacked\",\"currency\":\"EUR\","
    "\"value_minor\":2000}\n";

static int32_t history_read(void *user, uint64_t offset, char *buffer, size_t capacity, size_t *length)
{
    (void)user;
    assert_true(capacity > sizeof history);
    *length = offset == 0 ? sizeof history - 1 : 0;
    memcpy(buffer, history, *length);
    return CFOIL_OK;
}

static int32_t call_import(struct world *world)
{
    cfoil_import_options options = CFOIL_IMPORT_OPTIONS_INIT;
    cfoil_import_result result = CFOIL_IMPORT_RESULT_INIT;
    options.read = history_read;
    options.staff = "07";
    int32_t answer = cfoil_ledger_import(world->ledger, &options, &result);
    assert_true(answer != CFOIL_OK || result.taken + result.there == 1);
    return answer;
}

static int32_t call_reconcile(struct world *world)
{
    cfoil_reconcile_options options = CFOIL_RECONCILE_OPTIONS_INIT;
    options.envelopes = "[\"E 1\",\"E 2\",\"E 2\"]";
    return cfoil_reconcile_json(world->ledger, &options, text, sizeof text, NULL);
}

static int32_t call_sign(struct world *world)
{
    return cfoil_ledger_sign(world->ledger, CFOIL_SIGN_CHECKPOINT, NULL, NULL, NULL);
}

static int32_t call_rebuild(struct world *world)
{
    return cfoil_ledger_rebuild(world->ledger);
}

static int32_t call_papers(struct world *world)
{
    int32_t result = CFOIL_OK;
    for (int32_t kind = CFOIL_PAPER_LABEL; kind <= CFOIL_PAPER_PERIOD && result == CFOIL_OK; kind++) {
        cfoil_paper_options options = CFOIL_PAPER_OPTIONS_INIT;
        options.kind = kind;
        options.case_id = kind == CFOIL_PAPER_LABEL ? world->kept.case_id : NULL;
        options.language = "de";
        options.format = kind == CFOIL_PAPER_PERIOD ? CFOIL_PAPER_HTML : CFOIL_PAPER_PLAIN_42;
        result = cfoil_paper_write(world->ledger, &options, text, sizeof text, NULL);
    }
    return result;
}

static int32_t call_setting(struct world *world)
{
    return cfoil_setting_set(world->ledger, NULL, "01", "two_persons", "no");
}

/* A second call finds the code there already, and nobody signed in: the first one did it. */
static int32_t call_staff(struct world *world)
{
    int32_t result = cfoil_staff_set(world->ledger, NULL, "01", CFOIL_ROLE_SUPERVISOR, "7391");
    return result == CFOIL_E_STATE_SIGNED_OUT ? CFOIL_OK : result;
}

/* A try that failed for want of memory has been counted, as a wrong PIN is; two of them do not lock. */
static int32_t call_sign_in(struct world *world)
{
    int32_t result = cfoil_sign_in(world->ledger, "01", "7391", 0, &world->session);
    cfoil_sign_out(world->session);
    return result;
}

static int32_t session_make(struct world *world)
{
    int32_t result = call_staff(world);
    return result == CFOIL_OK ? cfoil_sign_in(world->ledger, "01", "7391", 0, &world->session) : result;
}

static int32_t call_person_set(struct world *world)
{
    cfoil_person_options options = CFOIL_PERSON_OPTIONS_INIT;
    options.session = world->session;
    options.case_id = world->kept.case_id;
    options.days = 30;
    options.contact = "somebody";
    return cfoil_person_set(world->ledger, &options, NULL);
}

static int32_t person_make(struct world *world)
{
    int32_t result = session_make(world);
    return result == CFOIL_OK ? call_person_set(world) : result;
}

static int32_t call_person_json(struct world *world)
{
    return cfoil_person_json(world->ledger, world->session, world->kept.case_id, text, sizeof text, NULL);
}

/* A second call finds nothing: the first one erased it. */
static int32_t call_person_erase(struct world *world)
{
    int32_t result = cfoil_person_erase(world->ledger, world->session, NULL, world->kept.case_id, NULL);
    return result == CFOIL_E_MISSING_ENTRY ? CFOIL_OK : result;
}

static const struct {
    const char *name;
    int32_t (*call)(struct world *world);
    int32_t (*before)(struct world *world); /* NULL = nothing */
    bool slow;                              /* a PIN, or many words: fewer trials */
} calls[] = {
    {"cfoil_case_resume", call_resume, NULL, false},
    {"cfoil_tender_check", call_tender, NULL, false},
    {"cfoil_custody_move, find", call_find, NULL, false},
    {"cfoil_custody_move, seal", call_seal, NULL, false},
    {"cfoil_ledger_list_json", call_lists, NULL, false},
    {"cfoil_reconcile_json", call_reconcile, NULL, false},
    {"cfoil_setting_set", call_setting, NULL, false},
    {"cfoil_ledger_sign", call_sign, NULL, false},
    {"cfoil_ledger_import", call_import, NULL, false},
    {"cfoil_ledger_rebuild", call_rebuild, NULL, false},
    {"cfoil_staff_set", call_staff, NULL, true},
    {"cfoil_person_set", call_person_set, session_make, true},
    {"cfoil_person_json", call_person_json, person_make, true},
    {"cfoil_person_erase", call_person_erase, person_make, true},
    {"cfoil_paper_write", call_papers, NULL, true},
    {"cfoil_ledger_export", call_export, NULL, false},
    {"cfoil_sign_in", call_sign_in, call_staff, true},
};

/* False when the call makes fewer than n allocations. */
static bool refused_once(size_t which, long n, bool for_ever)
{
    struct world world;
    world_open(&world);
    if (calls[which].before != NULL)
        assert_int_equal(calls[which].before(&world), CFOIL_OK);
    heap_fail_arm(n, for_ever);
    int32_t result = calls[which].call(&world);
    bool refused = heap_fail_disarm();
    bool named = result == CFOIL_OK || result == CFOIL_E_MEMORY || (result & 0xFF) == CFOIL_CLASS_SYSTEM;
    if (!named || (!refused && result != CFOIL_OK))
        print_error("%s, allocation %ld%s: result %#x\n", calls[which].name, n, for_ever ? " and after" : "",
                    (unsigned)result);
    assert_true(named && (refused || result == CFOIL_OK));
    if (result != CFOIL_OK)
        assert_int_equal(calls[which].call(&world), CFOIL_OK);
    world_close(&world);
    return refused;
}

static void every_call_survives_every_refused_allocation(void **state)
{
    (void)state;
    long total = 0;
    for (size_t i = 0; i < sizeof calls / sizeof calls[0]; i++) {
        for (int for_ever = 0; for_ever < 2; for_ever++) {
            refused_once(i, 1000000, false); /* lets every library make its caches */
            long before = heap_blocks();
            long n = 1;
            while (refused_once(i, n, for_ever != 0)) {
                n = n < 60 && !calls[i].slow ? n + 1 : n + n / 6 + 1;
                total++;
            }
            if (heap_blocks() != before)
                print_error("%s: %ld blocks leaked\n", calls[i].name, heap_blocks() - before);
            assert_int_equal(heap_blocks(), before);
        }
    }
    print_message("%ld refused allocations\n", total);
    assert_true(total > 200);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_call_survives_every_refused_allocation)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
