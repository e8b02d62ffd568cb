/*
 * The count at the end of a shift: held notes by record against the envelopes that somebody has in hand. See keep.h.
 */
#include "ledger/keep.h"

#include "ledger/body.h"
#include "ledger/custody.h"
#include "ledger/rows.h"
#include "model/error.h"
#include "model/json.h"
#include "model/json_scan.h"
#include "model/text.h"
#include "os/os.h"

#include <string.h>

#define AREA          "ledger"
#define COUNTED_BYTES (1u << 20) /* more envelopes than a shop has */

/* ---- What was counted ---- */

static bool counted_good(const cJSON *counted)
{
    const cJSON *item;
    cJSON_ArrayForEach(item, counted)
    {
        if (!text_acceptable(cJSON_GetStringValue(item), 1, 32))
            return false;
    }
    return cJSON_IsArray(counted);
}

static int32_t counted_read(const char *envelopes, cJSON **counted, cfoil_error_info *error)
{
    struct json_fault fault;
    size_t length = strlen(envelopes);
    *counted = NULL;
    if (length > COUNTED_BYTES || !json_scan(envelopes, length, &fault))
        return error_set(error, CFOIL_E_DATA_SYNTAX, 0, AREA,
                         "Give the counted envelopes as a JSON array of texts, at most 1 MiB.");
    *counted = cJSON_ParseWithLength(envelopes, length);
    if (*counted == NULL)
        return error_memory_set(error, AREA);
    if (counted_good(*counted))
        return CFOIL_OK;
    cJSON_Delete(*counted);
    *counted = NULL;
    return error_set(error, CFOIL_E_DATA_SCHEMA, 0, AREA,
                     "Give the counted envelopes as a JSON array of texts of 1 to 32 bytes.");
}

static uint32_t times_counted(const cJSON *counted, const char *envelope)
{
    uint32_t times = 0;
    const cJSON *item;
    cJSON_ArrayForEach(item, counted) times += strcmp(cJSON_GetStringValue(item), envelope) == 0;
    return times;
}

/* ---- What the ledger says ---- */

struct count {
    const cJSON *counted;
    cJSON *present, *missing, *loose, *doubled, *wrong_state, *unknown;
    uint32_t held;
    bool good; /* no memory failed */
};

static bool note_add(cJSON *list, sqlite3_stmt *row)
{
    static const char *const keys[] = {"case_id", "envelope", "state", "place", "currency"};
    cJSON *item = json_object_add(list, NULL);
    bool good = item != NULL;
    for (int i = 0; good && i < (int)(sizeof keys / sizeof keys[0]); i++) {
        const char *text = (const char *)sqlite3_column_text(row, i);
        good = text != NULL && json_text_add(item, keys[i], text[0] == '\0' ? NULL : text);
    }
    return good && json_integer_add(item, "value_minor", sqlite3_column_int64(row, 5)) &&
           json_integer_add(item, "entry", sqlite3_column_int64(row, 6));
}

/* One note that is in an envelope by record. */
static void sealed_count(struct count *count, sqlite3_stmt *row, const char *envelope)
{
    uint32_t times = times_counted(count->counted, envelope);
    count->good = note_add(times > 0 ? count->present : count->missing, row);
}

static void note_count(struct count *count, sqlite3_stmt *row)
{
    const char *envelope = (const char *)sqlite3_column_text(row, 1);
    const char *name = (const char *)sqlite3_column_text(row, 2);
    if (envelope == NULL || name == NULL) {
        count->good = false;
        return;
    }
    enum custody_state state = custody_state_find(name);
    count->held += custody_held(state);
    if (state == CUSTODY_SEALED)
        sealed_count(count, row, envelope);
    else if (custody_held(state))
        count->good = note_add(count->loose, row);
    else if (envelope[0] != '\0' && times_counted(count->counted, envelope) > 0)
        count->good = note_add(count->wrong_state, row);
}

static int notes_count(sqlite3 *reader, const cfoil_reconcile_options *options, struct count *count)
{
    sqlite3_stmt *rows;
    struct row_value values[] = {row_number(options->from_utc_ms), row_number(options->until_utc_ms)};
    int code = rows_begin(reader,
                          "SELECT case_id, envelope, state, place, currency, value_minor, custody.entry FROM custody"
                          " JOIN case_index USING(case_id)"
                          " WHERE (?1 = 0 OR since_utc_ms >= ?1) AND (?2 = 0 OR since_utc_ms < ?2)"
                          " ORDER BY since_utc_ms, custody.entry",
                          values, 2, &rows);
    if (code != SQLITE_OK)
        return code;
    while (count->good && (code = sqlite3_step(rows)) == SQLITE_ROW)
        note_count(count, rows);
    (void)sqlite3_finalize(rows);
    return count->good ? code : SQLITE_NOMEM;
}

/* ---- Envelopes that the record does not explain ---- */

/* How many notes the ledger ever put into that envelope, and how many are in it by record. */
static int envelope_look(sqlite3 *reader, const char *envelope, int64_t *ever, int64_t *sealed)
{
    sqlite3_stmt *row;
    struct row_value values[] = {row_text(envelope)};
    int code = rows_begin(reader, "SELECT count(*), total(state = 'sealed') FROM custody WHERE envelope = ?1", values,
                          1, &row);
    if (code != SQLITE_OK)
        return code;
    code = sqlite3_step(row);
    if (code == SQLITE_ROW) {
        *ever = sqlite3_column_int64(row, 0);
        *sealed = sqlite3_column_int64(row, 1);
    }
    (void)sqlite3_finalize(row);
    return code == SQLITE_ROW ? SQLITE_OK : code;
}

static bool first_of_its_number(const cJSON *counted, const cJSON *item)
{
    const cJSON *other;
    cJSON_ArrayForEach(other, counted)
    {
        if (other == item)
            return true;
        if (strcmp(cJSON_GetStringValue(other), cJSON_GetStringValue(item)) == 0)
            return false;
    }
    return false;
}

static bool doubled_add(cJSON *list, const char *envelope, uint32_t times, int64_t sealed)
{
    cJSON *item = json_object_add(list, NULL);
    return json_text_add(item, "envelope", envelope) && json_integer_add(item, "counted", times) &&
           json_integer_add(item, "by_record", sealed);
}

static int envelopes_count(sqlite3 *reader, struct count *count)
{
    const cJSON *item;
    int code = SQLITE_OK;
    cJSON_ArrayForEach(item, count->counted)
    {
        int64_t ever = 0;
        int64_t sealed = 0;
        const char *envelope = cJSON_GetStringValue(item);
        if (!first_of_its_number(count->counted, item))
            continue;
        code = envelope_look(reader, envelope, &ever, &sealed);
        uint32_t times = times_counted(count->counted, envelope);
        if (code == SQLITE_OK && ever == 0)
            count->good = json_text_add(count->unknown, NULL, envelope);
        if (count->good && (times > 1 || sealed > 1))
            count->good = doubled_add(count->doubled, envelope, times, sealed);
        if (code != SQLITE_OK || !count->good)
            break;
    }
    return count->good ? code : SQLITE_NOMEM;
}

/* ---- The whole ---- */

static bool lists_make(struct count *count, cJSON *object)
{
    count->present = json_array_add(object, "present");
    count->missing = json_array_add(object, "missing");
    count->loose = json_array_add(object, "not_in_an_envelope");
    count->doubled = json_array_add(object, "double");
    count->wrong_state = json_array_add(object, "wrong_state");
    count->unknown = json_array_add(object, "not_in_the_ledger");
    return count->present != NULL && count->missing != NULL && count->loose != NULL && count->doubled != NULL &&
           count->wrong_state != NULL && count->unknown != NULL;
}

static bool agrees(const struct count *count)
{
    return cJSON_GetArraySize(count->missing) == 0 && cJSON_GetArraySize(count->loose) == 0 &&
           cJSON_GetArraySize(count->doubled) == 0 && cJSON_GetArraySize(count->wrong_state) == 0 &&
           cJSON_GetArraySize(count->unknown) == 0;
}

static int32_t count_run(struct ledger *ledger, const cfoil_reconcile_options *options, struct count *count,
                         cfoil_error_info *error)
{
    sqlite3 *reader;
    if (ledger->store.version < 2)
        return error_set(error, CFOIL_E_LEDGER_READ_ONLY, 0, AREA,
                         "This ledger is of an older version without custody: open it for writing once.");
    int32_t result = store_reader_open(&ledger->store, &reader, error);
    if (result != CFOIL_OK)
        return result;
    int code = notes_count(reader, options, count);
    if (code == SQLITE_DONE)
        code = envelopes_count(reader, count);
    if (code != SQLITE_OK)
        result = store_error(reader, code, error);
    (void)sqlite3_close(reader);
    return result;
}

int32_t keep_reconcile(struct ledger *ledger, const cfoil_reconcile_options *options, cJSON **object,
                       cfoil_error_info *error)
{
    cJSON *counted;
    *object = NULL;
    int32_t result = counted_read(options->envelopes, &counted, error);
    if (result != CFOIL_OK)
        return result;
    char time[TEXT_TIME_SIZE];
    text_time(os_time_utc_ms(), time);
    cJSON *made = cJSON_CreateObject();
    struct count count = {.counted = counted, .good = true};
    bool good = json_text_add(made, "schema", "counterfoil.reconcile/1") && json_text_add(made, "time", time) &&
                lists_make(&count, made);
    result = good ? count_run(ledger, options, &count, error) : error_memory_set(error, AREA);
    if (result == CFOIL_OK && !(json_integer_add(made, "held", count.held) &&
                                json_integer_add(made, "counted", cJSON_GetArraySize(counted)) &&
                                json_flag_add(made, "agrees", agrees(&count))))
        result = error_memory_set(error, AREA);
    cJSON_Delete(counted);
    if (result == CFOIL_OK)
        *object = made;
    else
        cJSON_Delete(made);
    return result;
}
