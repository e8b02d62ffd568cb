/*
 * Does the ledger keep its promises when the disk fails or the power goes at any moment? Every operation of the ledger is
 * run again and again, with each write, flush, truncation, deletion and reading in turn as the moment. After each: what was
 * acknowledged is there, what was not is wholly there or wholly absent, the chain is intact, the lists are what the entries
 * say, and the next opening works.
 *
 *     crash_ledger             every moment, several fates of what was not flushed; prints the figures
 *     crash_ledger --short     some of them; part of the test run
 */
#include "crash_vfs.h"

#include "ledger/append.h"
#include "ledger/checkpoint.h"
#include "ledger/keep.h"
#include "ledger/key.h"
#include "ledger/person.h"
#include "ledger/rebuild.h"

#include "../unit/ledger/version_1.h"

enum { STEPS_MAX = 4, GROWING = 220 };
enum base { BASE_NONE, BASE_FULL, BASE_OLDER, BASES };

static char folder[200];
static char base_folder[BASES][260];
static char path[300];
static struct ledger *ledger;
static cfoil_error_info error;
static const char *running = "";
static long moments[CRASH_KINDS];
static long second_moments;

static void demand(bool condition, const char *what)
{
    if (condition)
        return;
    fprintf(stderr, "crash_ledger: %s: %s (%s)\n", running, what, error.text);
    exit(1);
}

/* ---- Files ---- */

static void folder_empty(const char *name)
{
    DIR *opened = opendir(name);
    demand(opened != NULL, "no folder");
    for (struct dirent *file; (file = readdir(opened)) != NULL;) {
        char each[700];
        snprintf(each, sizeof each, "%s/%s", name, file->d_name);
        if (file->d_name[0] != '.')
            unlink(each);
    }
    closedir(opened);
}

static void file_copy(const char *from, const char *to)
{
    static char bytes[1 << 16];
    FILE *source = fopen(from, "rb");
    FILE *target = fopen(to, "wb");
    demand(source != NULL && target != NULL, "cannot copy");
    for (size_t count; (count = fread(bytes, 1, sizeof bytes, source)) > 0;)
        demand(fwrite(bytes, 1, count, target) == count, "cannot copy");
    fclose(source);
    fclose(target);
    chmod(to, 0600);
}

static void folder_copy(const char *from, const char *to)
{
    DIR *opened = opendir(from);
    demand(opened != NULL, "no folder");
    for (struct dirent *file; (file = readdir(opened)) != NULL;) {
        char source[700];
        char target[700];
        snprintf(source, sizeof source, "%s/%s", from, file->d_name);
        snprintf(target, sizeof target, "%s/%s", to, file->d_name);
        if (file->d_name[0] != '.')
            file_copy(source, target);
    }
    closedir(opened);
}

/* ---- A second look at the file ---- */

static int64_t asked(const char *sql)
{
    sqlite3 *other;
    sqlite3_stmt *row;
    demand(sqlite3_open(path, &other) == SQLITE_OK, "cannot look");
    demand(sqlite3_prepare_v2(other, sql, -1, &row, NULL) == SQLITE_OK, sql);
    demand(sqlite3_step(row) == SQLITE_ROW, sql);
    int64_t value = sqlite3_column_int64(row, 0);
    sqlite3_finalize(row);
    sqlite3_close(other);
    return value;
}

static bool table_there(const char *name)
{
    char sql[120];
    snprintf(sql, sizeof sql, "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = '%s'", name);
    return asked(sql) == 1;
}

/* ---- The operations ---- */

static int32_t ledger_try(void)
{
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = path;
    options.busy_ms = 1;
    memset(&error, 0, sizeof error);
    return ledger_open(&memory_heap, &options, &ledger, &error);
}

static void ledger_end(void)
{
    ledger_release(ledger);
    ledger = NULL;
}

static int32_t append_many(const char *body, uint32_t count, uint8_t device_byte, struct ledger_receipt *receipt)
{
    struct ledger_item items[3];
    struct ledger_receipt receipts[3];
    struct ledger_device_memory device = {"cctalk", &device_byte, 1};
    for (uint32_t i = 0; i < count; i++)
        items[i] = item_make(LEDGER_KIND_DEVICE, body);
    int32_t result = ledger_append(ledger, items, count, &device, receipts, &error);
    *receipt = receipts[count - 1];
    return result;
}

static int32_t three_append(struct ledger_receipt *receipt)
{
    return append_many("{\"kind\":\"device\",\"step\":\"three\"}", 3, 3, receipt);
}

static int32_t one_append(struct ledger_receipt *receipt)
{
    return append_many("{\"kind\":\"device\",\"step\":\"one\"}", 1, 1, receipt);
}

static int32_t case_append(struct ledger_receipt *receipt)
{
    struct ledger_item item = case_make("01900000-0000-7000-8000-000000000009", CFOIL_DISPOSITION_NOT_TAKEN);
    item.body = "{\"currency\":\"EUR\",\"envelope\":null,\"lane\":\"1\",\"sale\":\"S9\",\"serial\":\"VA0436214792\","
                "\"value_minor\":5000}";
    item.currency = "EUR";
    item.serial = "VA0436214792";
    return ledger_append(ledger, &item, 1, NULL, receipt, &error);
}

static int32_t note_seal(struct ledger_receipt *receipt)
{
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    options.move = CFOIL_CUSTODY_SEAL;
    options.envelope = "E 7";
    struct custody_order order = {.options = &options,
                                  .case_id = "01900000-0000-7000-8000-000000000001",
                                  .actor = {"07", false},
                                  .now_utc_ms = INT64_C(1764000005000)};
    return keep_move(ledger, &order, receipt, &error);
}

static int32_t rule_set(struct ledger_receipt *receipt)
{
    struct actor actor = {"01", false};
    return access_setting_set(ledger, &actor, "two_persons", "yes", receipt, &error);
}

static int32_t staff_make(struct ledger_receipt *receipt)
{
    struct actor actor = {"01", false};
    return access_staff_set(ledger, &actor, "01", CFOIL_ROLE_SUPERVISOR, "7391", receipt, &error);
}

static int32_t open_case_save(struct ledger_receipt *receipt)
{
    struct working_case working = {"01900000-0000-7000-8000-000000000077", "1", "S77", "EUR", "", "{}"};
    (void)receipt;
    return keep_case_save(ledger, &working, &error);
}

static int32_t sign(struct ledger_receipt *receipt)
{
    struct signed_receipt signature = {.time_utc_ms = 0};
    int32_t result = checkpoint_write(ledger, &signature, &error);
    if (result == CFOIL_OK)
        *receipt = signature.entry;
    return result;
}

static int32_t key_exchange(struct ledger_receipt *receipt)
{
    struct signed_receipt signature = {.time_utc_ms = 0};
    struct actor actor = {"01", false};
    int32_t result = key_change(ledger, &actor, &signature, &error);
    if (result == CFOIL_OK)
        *receipt = signature.entry;
    return result;
}

static int32_t person_store(struct ledger_receipt *receipt)
{
    struct actor actor = {"01", true};
    struct person person = {.case_id = "01900000-0000-7000-8000-000000000001",
                            .name = "as told",
                            .now_utc_ms = INT64_C(1764000005000),
                            .erase_after_utc_ms = INT64_C(1864000005000)};
    return person_write(ledger, &actor, &person, receipt, &error);
}

static int32_t person_remove(struct ledger_receipt *receipt)
{
    struct actor actor = {"01", true};
    (void)receipt;
    int32_t result = person_erase(ledger, &actor, "01900000-0000-7000-8000-000000000001", &error);
    return result == CFOIL_E_MISSING_ENTRY ? CFOIL_E_LEDGER_FAILED : result; /* its writing had failed */
}

static int32_t lists_rebuild(struct ledger_receipt *receipt)
{
    (void)receipt;
    return ledger_rebuild(ledger, &error);
}

static int32_t all_verify(struct ledger_receipt *receipt)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    (void)receipt;
    int32_t result = ledger_verify(ledger, &check, &error);
    demand(result != CFOIL_OK || check.intact == 1, "verifying under faults called a good ledger altered");
    return result == CFOIL_E_LEDGER_DAMAGED ? CFOIL_E_LEDGER_FAILED : result; /* what cannot be read may be damaged */
}

/* So many that SQLite brings the log into the file while the ledger is in use. */
static int32_t growing_append(struct ledger_receipt *receipt)
{
    static char body[3000];
    int32_t result = CFOIL_OK;
    int length = snprintf(body, sizeof body, "{\"step\":\"growing\",\"text\":\"");
    memset(body + length, 'x', sizeof body - 3 - (size_t)length);
    memcpy(body + sizeof body - 3, "\"}", 3);
    for (int i = 0; i < GROWING && result == CFOIL_OK; i++) {
        struct ledger_item item = item_make(LEDGER_KIND_DEVICE, body);
        struct ledger_receipt each;
        result = ledger_append(ledger, &item, 1, NULL, &each, &error);
        if (result == CFOIL_OK)
            *receipt = each;
    }
    return result;
}

struct step {
    int32_t (*run)(struct ledger_receipt *receipt);
    const char *count; /* its entries, NULL = it makes none of its own */
    int entries;       /* all of them or none; 0 = any number */
};

#define BODY_COUNT(step) "SELECT count(*) FROM entry WHERE body LIKE '%\"step\":\"" step "\"%'"
#define KIND_COUNT(kind) "SELECT count(*) FROM entry WHERE kind = '" kind "'"
#define THREE                                                                                                          \
    {                                                                                                                  \
        three_append, BODY_COUNT("three"), 3                                                                           \
    }
#define ONE                                                                                                            \
    {                                                                                                                  \
        one_append, BODY_COUNT("one"), 1                                                                               \
    }

static const struct scenario {
    const char *name;
    enum base base;
    long stride; /* of the moments in the full form */
    struct step steps[STEPS_MAX];
} scenarios[] = {
    {"a new ledger", BASE_NONE, 1, {THREE}},
    {"opening", BASE_FULL, 1, {{NULL, NULL, 0}}},
    {"records and a case",
     BASE_FULL,
     1,
     {THREE, ONE, {case_append, "SELECT count(*) FROM entry WHERE case_id LIKE '%0009'", 1}}},
    {"custody and a rule", BASE_FULL, 1, {{note_seal, KIND_COUNT("custody"), 1}, {rule_set, KIND_COUNT("setting"), 1}}},
    {"a staff code", BASE_FULL, 1, {{staff_make, KIND_COUNT("staff"), 1}}},
    {"an open case", BASE_FULL, 1, {{open_case_save, NULL, 0}, ONE}},
    {"signing and a new key",
     BASE_FULL,
     1,
     {{sign, NULL, 0}, {key_exchange, KIND_COUNT("key") " AND number > 6", 1}, {sign, NULL, 0}}},
    {"personal data",
     BASE_FULL,
     1,
     {{person_store, BODY_COUNT("written"), 1}, {person_remove, BODY_COUNT("erased"), 1}}},
    {"making the lists again", BASE_FULL, 1, {{lists_rebuild, NULL, 0}, ONE}},
    {"verifying", BASE_FULL, 1, {{all_verify, NULL, 0}, ONE}},
    {"an older ledger", BASE_OLDER, 1, {ONE}},
    {"growing", BASE_FULL, 17, {{growing_append, BODY_COUNT("growing"), 0}}},
};

/* ---- What was acknowledged ---- */

static struct {
    bool done[STEPS_MAX];
    struct ledger_receipt receipts[STEPS_MAX];
} told;

static bool answer_clear(int32_t result)
{
    return result == CFOIL_OK || ((result & 0xff) == (CFOIL_E_LEDGER_OPEN & 0xff) && error.text[0] != '\0');
}

static void steps_run(const struct scenario *scenario)
{
    for (int i = 0; i < STEPS_MAX && scenario->steps[i].run != NULL; i++) {
        memset(&error, 0, sizeof error);
        int32_t result = scenario->steps[i].run(&told.receipts[i]);
        demand(answer_clear(result), "the answer is not a clear one");
        demand(result != CFOIL_E_LEDGER_DAMAGED, "a fault of the disk was taken for damage");
        told.done[i] = result == CFOIL_OK;
    }
}

static void scenario_run(const struct scenario *scenario)
{
    memset(&told, 0, sizeof told);
    int32_t result = ledger_try();
    demand(answer_clear(result), "opening does not answer clearly");
    if (result == CFOIL_OK)
        steps_run(scenario);
    ledger_end();
}

/* ---- Afterwards ---- */

static void receipt_check(const struct ledger_receipt *receipt)
{
    char sql[200];
    if (receipt->number == 0)
        return;
    snprintf(sql, sizeof sql, "SELECT count(*) FROM entry WHERE number = %lld AND lower(hex(hash)) = '%s'",
             (long long)receipt->number, receipt->hash);
    demand(asked(sql) == 1, "an acknowledged entry is lost");
}

static void steps_check(const struct scenario *scenario)
{
    int64_t expected_device = 0;
    for (int i = 0; i < STEPS_MAX && scenario->steps[i].run != NULL; i++) {
        const struct step *step = &scenario->steps[i];
        if (told.done[i] || step->entries == 0)
            receipt_check(&told.receipts[i]);
        if (step->count == NULL || step->entries == 0)
            continue;
        int64_t count = asked(step->count);
        demand(count == step->entries || (count == 0 && !told.done[i]), "a step is half there, or lost");
        bool device = step->run == three_append || step->run == one_append;
        if (device && count > 0)
            expected_device = step->entries;
        if (step->run == staff_make)
            demand(asked("SELECT count(*) FROM staff") == count, "a staff code and its entry differ");
        if (step->run == person_remove)
            demand(asked("SELECT count(*) FROM person") == asked(BODY_COUNT("written")) - count,
                   "personal data and the entries about them differ");
    }
    if (expected_device > 0) {
        uint8_t bytes[64];
        uint32_t length;
        demand(ledger_device_load(ledger, "cctalk", bytes, sizeof bytes, &length, &error) == CFOIL_OK && length == 1 &&
                   bytes[0] == expected_device,
               "what the device told to remember does not fit the entries");
    }
}

static const char *const lists[] = {"case_index", "custody", "setting", "key", "refused_serial", "rollup"};
enum { LISTS = sizeof lists / sizeof lists[0] };

/* The lists are what the entries say: made again, they are the same. */
static void lists_check(void)
{
    char sql[400];
    sqlite3 *other;
    for (int i = 0; i < LISTS; i++) {
        if (!table_there(lists[i]))
            continue;
        snprintf(sql, sizeof sql, "CREATE TABLE kept_%s AS SELECT * FROM %s", lists[i], lists[i]);
        demand(sqlite3_open(path, &other) == SQLITE_OK && sqlite3_exec(other, sql, NULL, NULL, NULL) == SQLITE_OK, sql);
        sqlite3_close(other);
    }
    demand(ledger_rebuild(ledger, &error) == CFOIL_OK, "the lists cannot be made again");
    for (int i = 0; i < LISTS; i++) {
        if (!table_there(lists[i]))
            continue;
        snprintf(sql, sizeof sql,
                 "SELECT (SELECT count(*) FROM (SELECT * FROM %s EXCEPT SELECT * FROM kept_%s)) +"
                 " (SELECT count(*) FROM (SELECT * FROM kept_%s EXCEPT SELECT * FROM %s))",
                 lists[i], lists[i], lists[i], lists[i]);
        demand(asked(sql) == 0, lists[i]);
    }
}

static void after_check(const struct scenario *scenario)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    demand(ledger_try() == CFOIL_OK, "the next opening fails");
    demand(ledger_verify(ledger, &check, &error) == CFOIL_OK && check.intact == 1, check.text);
    demand(asked("SELECT count(*) FROM pragma_integrity_check WHERE integrity_check = 'ok'") == 1,
           "SQLite's own check");
    steps_check(scenario);
    lists_check();
    demand(checkpoint_write(ledger, NULL, &error) == CFOIL_OK, "the store cannot sign any more");
    ledger_end();
}

/* ---- One moment ---- */

static void base_restore(const struct scenario *scenario)
{
    folder_empty(folder);
    if (scenario->base != BASE_NONE)
        folder_copy(base_folder[scenario->base], folder);
}

/* `second`: the power goes again at that operation of the next opening. False: the moment did not come. */
static bool moment_try(const struct scenario *scenario, enum crash_kind kind, long at, uint32_t seed, long second)
{
    static char name[120];
    snprintf(name, sizeof name, "%s, kind %d, moment %ld, seed %u, second %ld", scenario->name, (int)kind, at, seed,
             second);
    running = name;
    base_restore(scenario);
    crash_arm(kind, at, seed);
    scenario_run(scenario);
    bool came = crash_happened();
    crash_settle();
    if (came)
        moments[kind]++;
    if (came && second > 0) {
        crash_arm(CRASH_POWER, second, seed + 1);
        (void)ledger_try();
        ledger_end();
        second_moments += crash_happened();
        crash_settle();
    }
    after_check(scenario);
    return came;
}

static void scenario_try(const struct scenario *scenario, bool brief)
{
    static uint32_t seed = 20261128;
    long before = 0;
    for (int kind = 0; kind < CRASH_KINDS; kind++)
        before += moments[kind];
    for (int kind = 0; kind < CRASH_KINDS; kind++) {
        int fates = kind == CRASH_POWER && !brief && scenario->stride == 1 ? 3 : 1;
        long stride = brief ? (scenario->stride > 1 ? 1999 : 31) : scenario->stride;
        bool slow = scenario->steps[0].run == staff_make; /* a tenth of a second for each PIN */
        if (kind == CRASH_READ_FAILS && !brief)
            stride *= 7; /* there are many */
        if (slow)
            stride *= 3;
        if (brief && kind != CRASH_POWER && (slow || scenario->stride > 1))
            continue; /* the long ones: once is enough there */
        for (long at = 1 + (brief ? kind : 0); at > 0; at += stride) {
            bool came = false;
            for (int fate = 0; fate < fates; fate++)
                came |= moment_try(scenario, (enum crash_kind)kind, at, seed++,
                                   fate == 1 || (brief && kind == CRASH_POWER) ? 1 + at % 9 : 0);
            if (!came)
                break;
        }
    }
    long after = 0;
    for (int kind = 0; kind < CRASH_KINDS; kind++)
        after += moments[kind];
    printf("%-26s %6ld moments\n", scenario->name, after - before);
    demand(after > before, "no moment came");
}

/* ---- The whole ---- */

static void bases_make(void)
{
    for (int base = BASE_FULL; base < BASES; base++) {
        snprintf(base_folder[base], sizeof base_folder[base], "%s-base-%d", folder, base);
        demand(mkdir(base_folder[base], 0700) == 0, "no folder");
    }
    snprintf(path, sizeof path, "%s/ledger", base_folder[BASE_OLDER]);
    version_1_make(path);
    snprintf(path, sizeof path, "%s/ledger", base_folder[BASE_FULL]);
    demand(ledger_try() == CFOIL_OK, "no ledger");
    for (int i = 1; i <= 3; i++) {
        char case_id[40];
        struct ledger_receipt receipt;
        snprintf(case_id, sizeof case_id, "01900000-0000-7000-8000-%012d", i);
        struct ledger_item item = case_make(case_id, CFOIL_DISPOSITION_SET_ASIDE);
        demand(ledger_append(ledger, &item, 1, NULL, &receipt, &error) == CFOIL_OK, "cannot append");
    }
    demand(checkpoint_write(ledger, NULL, &error) == CFOIL_OK, "cannot sign");
    ledger_end();
    snprintf(path, sizeof path, "%s/ledger", folder);
}

static void folders_remove(void)
{
    folder_empty(folder);
    rmdir(folder);
    for (int base = BASE_FULL; base < BASES; base++) {
        folder_empty(base_folder[base]);
        rmdir(base_folder[base]);
    }
}

int main(int argc, char **argv)
{
    static const char *const kinds[CRASH_KINDS] = {"the power goes", "one fault", "faults from there on",
                                                   "no room",        "read only", "one reading fails"};
    bool brief = argc > 1 && strcmp(argv[1], "--short") == 0;
    const char *base = getenv("TMPDIR");
    long all = 0;
    snprintf(folder, sizeof folder, "%.100s/counterfoil-crash-XXXXXX", base != NULL ? base : "/tmp");
    demand(mkdtemp(folder) != NULL, "no folder");
    bases_make();
    crash_vfs_register();
    crash_arm(CRASH_POWER, 0, 1);
    for (size_t i = 0; i < sizeof scenarios / sizeof scenarios[0]; i++)
        scenario_try(&scenarios[i], brief);
    for (int kind = 0; kind < CRASH_KINDS; kind++) {
        printf("%-26s %6ld\n", kinds[kind], moments[kind]);
        all += moments[kind];
    }
    printf("%-26s %6ld\n%-26s %6ld\n", "power again at opening", second_moments, "all moments", all);
    folders_remove();
    return 0;
}
