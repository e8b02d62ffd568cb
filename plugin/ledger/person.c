/*
 * Personal data. See person.h.
 */
#include "ledger/person.h"

#include "ledger/append.h"
#include "ledger/body.h"
#include "ledger/key.h"
#include "ledger/rows.h"
#include "model/error.h"
#include "model/json.h"
#include "model/text.h"
#include "os/os.h"

#include <sodium/utils.h>
#include <string.h>

#define AREA "person"

/* Sealed texts of a row longer than this were not written here: four texts, their keys, and each byte at most six long as
 * JSON writes it. */
#define SEALED_MAX (6 * 4 * PERSON_TEXT_MAX + 200 + KEY_SEALED_EXTRA)

/* ---- Who may ---- */

/* Names alone are not enough here: a ledger without staff codes holds no personal data. */
static int32_t session_check(struct ledger *ledger, const struct actor *actor, uint32_t roles, cfoil_error_info *error)
{
    if (!actor->signed_in)
        return error_set(error, CFOIL_E_STATE_SIGNED_OUT, 0, AREA,
                         "Personal data need a person who is signed in: make staff codes, and sign in.");
    return access_check(ledger, actor, roles, error);
}

/* ---- The entry ---- */

struct step {
    const char *case_id;
    const char *step;
    const char *by; /* NULL = nobody: the time was over */
    int64_t now_utc_ms;
    int64_t erase_after_utc_ms; /* 0 = not told */
    struct ledger_receipt *receipt;
};

static char *step_body(const struct step *step)
{
    char time[TEXT_TIME_SIZE];
    text_time(step->erase_after_utc_ms, time);
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.person_step/1") &&
                json_text_add(object, "case", step->case_id) && json_text_add(object, "step", step->step) &&
                json_text_add(object, "by", step->by) &&
                json_text_add(object, "erase_after", step->erase_after_utc_ms != 0 ? time : NULL);
    char *text = good ? json_canonical(object) : NULL;
    cJSON_Delete(object);
    return text;
}

static int32_t step_append(struct ledger *ledger, const struct step *step, cfoil_error_info *error)
{
    char *body = step_body(step);
    if (body == NULL)
        return error_memory_set(error, AREA);
    struct ledger_item item = {.kind = LEDGER_KIND_PERSON, .time_utc_ms = step->now_utc_ms, .body = body};
    int32_t result = append_inside(ledger, &item, step->receipt, error);
    cJSON_free(body);
    return result;
}

/* ---- Writing ---- */

/* Wipes what may be personal before the memory goes back. */
void person_text_free(char *text)
{
    if (text != NULL)
        sodium_memzero(text, strlen(text));
    cJSON_free(text);
}

/* The texts of a tree are freed by cJSON, which does not wipe them. */
static void tree_free(cJSON *object)
{
    for (cJSON *item = object != NULL ? object->child : NULL; item != NULL; item = item->next) {
        if (cJSON_IsString(item))
            sodium_memzero(item->valuestring, strlen(item->valuestring));
    }
    cJSON_Delete(object);
}

static char *person_text(const struct person *person)
{
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "name", person->name) && json_text_add(object, "contact", person->contact) &&
                json_text_add(object, "id_shown", person->id_shown) && json_text_add(object, "note", person->note);
    char *text = good ? json_canonical(object) : NULL;
    tree_free(object);
    return text;
}

static int row_write(sqlite3 *database, const struct person *person, const uint8_t nonce[KEY_NONCE_SIZE],
                     const uint8_t *sealed, size_t length)
{
    struct row_value values[] = {row_text(person->case_id), row_bytes(nonce, (int)KEY_NONCE_SIZE),
                                 row_bytes(sealed, (int)length), row_number(person->now_utc_ms),
                                 row_number(person->erase_after_utc_ms)};
    return rows_run(database,
                    "INSERT OR REPLACE INTO person(case_id, nonce, cipher, written_utc_ms, erase_after_utc_ms)"
                    " VALUES(?1, ?2, ?3, ?4, ?5)",
                    values, 5);
}

static int32_t case_check(struct ledger *ledger, const char *case_id, cfoil_error_info *error)
{
    sqlite3_stmt *row;
    struct row_value values[] = {row_text(case_id)};
    int code = rows_begin(ledger->store.database,
                          "SELECT 1 FROM case_index WHERE case_id = ?1 UNION ALL"
                          " SELECT 1 FROM open_case WHERE case_id = ?1",
                          values, 1, &row);
    if (code != SQLITE_OK)
        return store_error(ledger->store.database, code, error);
    code = sqlite3_step(row);
    (void)sqlite3_finalize(row);
    if (code == SQLITE_DONE)
        return error_set(error, CFOIL_E_MISSING_CASE, 0, AREA, "The ledger knows of no such case: look at its lists.");
    return code == SQLITE_ROW ? CFOIL_OK : store_error(ledger->store.database, code, error);
}

struct writing {
    const struct actor *actor;
    const struct person *person;
    const char *plain;
    uint8_t *sealed; /* room for what is sealed */
    struct ledger_receipt *receipt;
};

static int32_t write_inside(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    const struct writing *writing = user;
    const struct person *person = writing->person;
    size_t length = strlen(writing->plain);
    uint8_t nonce[KEY_NONCE_SIZE];
    int32_t result = session_check(ledger, writing->actor, ROLES_HANDS, error);
    if (result == CFOIL_OK)
        result = case_check(ledger, person->case_id, error);
    if (result == CFOIL_OK)
        result = key_seal(ledger, person->case_id, (const uint8_t *)writing->plain, length, nonce, writing->sealed,
                          error);
    if (result == CFOIL_OK)
        result = store_result(
            ledger->store.database,
            row_write(ledger->store.database, person, nonce, writing->sealed, length + KEY_SEALED_EXTRA), error);
    const struct step step = {
        person->case_id,  "written", writing->actor->staff, person->now_utc_ms, person->erase_after_utc_ms,
        writing->receipt,
    };
    return result == CFOIL_OK ? step_append(ledger, &step, error) : result;
}

int32_t person_write(struct ledger *ledger, const struct actor *actor, const struct person *person,
                     struct ledger_receipt *receipt, cfoil_error_info *error)
{
    char *plain = person_text(person);
    uint8_t *sealed = plain != NULL ? memory_allocate(&ledger->memory, strlen(plain) + KEY_SEALED_EXTRA) : NULL;
    struct writing writing = {actor, person, plain, sealed, receipt};
    int32_t result = sealed != NULL ? ledger_transact(ledger, write_inside, &writing, error)
                                    : error_memory_set(error, AREA);
    memory_release(&ledger->memory, sealed);
    person_text_free(plain);
    return result;
}

/* ---- Reading ---- */

static bool times_add(cJSON *object, sqlite3_stmt *row)
{
    char written[TEXT_TIME_SIZE];
    char erased[TEXT_TIME_SIZE];
    text_time(sqlite3_column_int64(row, 2), written);
    text_time(sqlite3_column_int64(row, 3), erased);
    return json_text_add(object, "written", written) && json_text_add(object, "erase_after", erased);
}

static int32_t text_make(const char *case_id, const char *plain, sqlite3_stmt *row, char **text,
                         cfoil_error_info *error)
{
    cJSON *object;
    int32_t result = ledger_body_parse(plain, &object);
    if (result != CFOIL_OK)
        return error_memory_set(error, AREA);
    if (!cJSON_IsObject(object)) {
        tree_free(object);
        return error_set(error, CFOIL_E_LEDGER_DAMAGED, 0, AREA, "What was sealed for the case cannot be read.");
    }
    bool good = json_text_add(object, "schema", "counterfoil.person/1") && json_text_add(object, "case", case_id) &&
                times_add(object, row);
    *text = good ? json_canonical(object) : NULL;
    tree_free(object);
    return *text != NULL ? CFOIL_OK : error_memory_set(error, AREA);
}

static int32_t row_open(struct ledger *ledger, const char *case_id, sqlite3_stmt *row, char **text,
                        cfoil_error_info *error)
{
    const uint8_t *nonce = sqlite3_column_blob(row, 0);
    const uint8_t *sealed = sqlite3_column_blob(row, 1);
    size_t length = (size_t)sqlite3_column_bytes(row, 1);
    bool whole = nonce != NULL && sqlite3_column_bytes(row, 0) == (int)KEY_NONCE_SIZE && sealed != NULL &&
                 length >= KEY_SEALED_EXTRA && length <= SEALED_MAX;
    if (!whole)
        return error_set(error, CFOIL_E_LEDGER_DAMAGED, 0, AREA, "What was sealed for the case cannot be read.");
    size_t size = length - KEY_SEALED_EXTRA;
    char *plain = memory_allocate(&ledger->memory, size + 1); /* zeroed: the text is ended */
    if (plain == NULL)
        return error_memory_set(error, AREA);
    int32_t result = key_open(ledger, case_id, nonce, sealed, length, (uint8_t *)plain, error);
    if (result == CFOIL_OK)
        result = text_make(case_id, plain, row, text, error);
    sodium_memzero(plain, size);
    memory_release(&ledger->memory, plain);
    return result;
}

static int32_t none_set(cfoil_error_info *error)
{
    return error_set(error, CFOIL_E_MISSING_ENTRY, 0, AREA, "The ledger keeps no personal data for this case.");
}

static int32_t read_locked(struct ledger *ledger, const struct actor *actor, const char *case_id, char **text,
                           cfoil_error_info *error)
{
    sqlite3_stmt *row;
    struct row_value values[] = {row_text(case_id)};
    int32_t result = session_check(ledger, actor, ROLES_SUPERVISE | ROLE_BIT(CFOIL_ROLE_AUDITOR), error);
    if (result != CFOIL_OK)
        return result;
    int code = rows_begin(ledger->store.database,
                          "SELECT nonce, cipher, written_utc_ms, erase_after_utc_ms FROM person WHERE case_id = ?1",
                          values, 1, &row);
    if (code != SQLITE_OK)
        return store_error(ledger->store.database, code, error);
    code = sqlite3_step(row);
    if (code == SQLITE_ROW)
        result = row_open(ledger, case_id, row, text, error);
    else
        result = code == SQLITE_DONE ? none_set(error) : store_error(ledger->store.database, code, error);
    (void)sqlite3_finalize(row);
    return result;
}

int32_t person_read(struct ledger *ledger, const struct actor *actor, const char *case_id, char **text,
                    cfoil_error_info *error)
{
    *text = NULL;
    os_mutex_lock(ledger->mutex);
    int32_t result = read_locked(ledger, actor, case_id, text, error);
    os_mutex_unlock(ledger->mutex);
    return result;
}

/* ---- Erasing ---- */

/* SQLite overwrites what is deleted (secure_delete), but the log may hold older pages: written back and cut to nothing, as
 * far as no other process is reading. What cannot be cut now is cut when the last process closes the file. */
static void log_cut(struct ledger *ledger)
{
    os_mutex_lock(ledger->mutex);
    (void)sqlite3_wal_checkpoint_v2(ledger->store.database, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
    os_mutex_unlock(ledger->mutex);
}

static int32_t row_erase(struct ledger *ledger, const struct step *step, cfoil_error_info *error)
{
    struct row_value values[] = {row_text(step->case_id)};
    int code = rows_run(ledger->store.database, "DELETE FROM person WHERE case_id = ?1", values, 1);
    if (code != SQLITE_OK)
        return store_error(ledger->store.database, code, error);
    if (sqlite3_changes(ledger->store.database) == 0)
        return none_set(error);
    return step_append(ledger, step, error);
}

struct erasing {
    const struct actor *actor;
    const char *case_id;
};

static int32_t erase_inside(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    const struct erasing *erasing = user;
    const struct step step = {
        .case_id = erasing->case_id,
        .step = "erased",
        .by = erasing->actor->staff,
        .now_utc_ms = os_time_utc_ms(),
    };
    int32_t result = access_check(ledger, erasing->actor, ROLES_SUPERVISE, error);
    return result == CFOIL_OK ? row_erase(ledger, &step, error) : result;
}

int32_t person_erase(struct ledger *ledger, const struct actor *actor, const char *case_id, cfoil_error_info *error)
{
    struct erasing erasing = {actor, case_id};
    int32_t result = ledger_transact(ledger, erase_inside, &erasing, error);
    if (result == CFOIL_OK)
        log_cut(ledger);
    return result;
}

/* The next case whose time is over; "" = none. */
static int32_t due_find(struct ledger *ledger, int64_t now_utc_ms, char case_id[65], cfoil_error_info *error)
{
    sqlite3_stmt *row;
    struct row_value values[] = {row_number(now_utc_ms)};
    case_id[0] = '\0';
    int code = rows_begin(ledger->store.database, "SELECT case_id FROM person WHERE erase_after_utc_ms <= ?1 LIMIT 1",
                          values, 1, &row);
    if (code != SQLITE_OK)
        return store_error(ledger->store.database, code, error);
    code = sqlite3_step(row);
    int read = code == SQLITE_ROW ? row_text_read(row, 0, case_id, 65) : SQLITE_OK;
    (void)sqlite3_finalize(row);
    if (code == SQLITE_ROW || code == SQLITE_DONE)
        code = read;
    return store_result(ledger->store.database, code, error);
}

static int32_t sweep_inside(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    uint32_t *erased = user;
    int64_t now_utc_ms = os_time_utc_ms();
    char case_id[65];
    *erased = 0;
    int32_t result = due_find(ledger, now_utc_ms, case_id, error);
    while (result == CFOIL_OK && case_id[0] != '\0') {
        const struct step step = {.case_id = case_id, .step = "erased", .now_utc_ms = now_utc_ms};
        result = row_erase(ledger, &step, error);
        if (result == CFOIL_OK) {
            ++*erased;
            result = due_find(ledger, now_utc_ms, case_id, error);
        }
    }
    return result;
}

int32_t person_sweep(struct ledger *ledger, uint32_t *erased, cfoil_error_info *error)
{
    char case_id[65] = "";
    *erased = 0;
    if (ledger->read_only)
        return CFOIL_OK;
    os_mutex_lock(ledger->mutex);
    int32_t result = due_find(ledger, os_time_utc_ms(), case_id, error);
    os_mutex_unlock(ledger->mutex);
    if (result != CFOIL_OK || case_id[0] == '\0')
        return result; /* nobody waits for a lock, and nothing is flushed, when nothing is due */
    result = ledger_transact(ledger, sweep_inside, erased, error);
    if (result == CFOIL_OK)
        log_cut(ledger);
    else
        *erased = 0;
    return result;
}
