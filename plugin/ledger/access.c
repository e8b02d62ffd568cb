/*
 * Who may do what in this ledger. See access.h.
 */
#include "ledger/access.h"

#include "ledger/append.h"
#include "ledger/body.h"
#include "ledger/pin.h"
#include "ledger/rows.h"
#include "model/error.h"
#include "model/json.h"
#include "model/text.h"
#include "os/os.h"

#include <sodium/utils.h>
#include <string.h>

#define AREA "ledger"

static const char *const role_names[] = {
    [CFOIL_ROLE_NONE] = "none",
    [CFOIL_ROLE_CASHIER] = "cashier",
    [CFOIL_ROLE_SUPERVISOR] = "supervisor",
    [CFOIL_ROLE_AUDITOR] = "auditor",
};
#define ROLE_COUNT (CFOIL_ROLE_AUDITOR + 1)

const char *role_name(int32_t role)
{
    return role >= 0 && role < ROLE_COUNT ? role_names[role] : NULL;
}

int32_t role_find(const char *name)
{
    for (int32_t i = CFOIL_ROLE_CASHIER; i < ROLE_COUNT; i++) {
        if (strcmp(role_names[i], name) == 0)
            return i;
    }
    return CFOIL_ROLE_NONE;
}

/* ---- Rows of the table ---- */

struct staff_row {
    bool there;
    int32_t role;
    char pin_hash[PIN_HASH_SIZE];
    int64_t failures;
    int64_t locked_until_utc_ms;
};

static int32_t staff_read(struct ledger *ledger, const char *staff, struct staff_row *found, cfoil_error_info *error)
{
    sqlite3_stmt *row;
    char role[16] = "";
    struct row_value values[] = {row_text(staff)};
    memset(found, 0, sizeof *found);
    int code = rows_begin(ledger->store.database,
                          "SELECT role, pin_hash, failures, locked_until_utc_ms FROM staff WHERE staff = ?1", values, 1,
                          &row);
    if (code != SQLITE_OK)
        return store_result(ledger->store.database, code, error);
    code = sqlite3_step(row);
    if (code == SQLITE_ROW) {
        found->there = true;
        found->failures = sqlite3_column_int64(row, 2);
        found->locked_until_utc_ms = sqlite3_column_int64(row, 3);
        code = row_text_read(row, 0, role, sizeof role);
        code |= row_text_read(row, 1, found->pin_hash, sizeof found->pin_hash);
        found->role = role_find(role);
    } else if (code == SQLITE_DONE) {
        code = SQLITE_OK;
    }
    (void)sqlite3_finalize(row);
    return store_result(ledger->store.database, code, error);
}

static int32_t staff_write(struct ledger *ledger, const char *staff, const struct staff_row *row,
                           cfoil_error_info *error)
{
    struct row_value values[] = {row_text(staff), row_text(role_names[row->role]), row_text(row->pin_hash),
                                 row_number(row->failures), row_number(row->locked_until_utc_ms)};
    return store_result(ledger->store.database,
                        rows_run(ledger->store.database,
                                 "INSERT OR REPLACE INTO staff(staff, role, pin_hash, failures, locked_until_utc_ms)"
                                 " VALUES(?1, ?2, ?3, ?4, ?5)",
                                 values, 5),
                        error);
}

static int32_t staff_count(struct ledger *ledger, const char *sql, int64_t *count, cfoil_error_info *error)
{
    *count = 0;
    if (ledger->store.version < 2)
        return CFOIL_OK;
    return store_result(ledger->store.database, store_integer_read(ledger->store.database, sql, count), error);
}

#define COUNT_ALL         "SELECT count(*) FROM staff WHERE role <> 'none'"
#define COUNT_SUPERVISORS "SELECT count(*) FROM staff WHERE role = 'supervisor'"

/* ---- May they? ---- */

static int32_t role_refused(cfoil_error_info *error, const char *staff)
{
    return error_set(error, CFOIL_E_RULE_ROLE, 0, AREA, "The role of %s does not allow this: ask somebody who may.",
                     staff);
}

int32_t access_check(struct ledger *ledger, const struct actor *actor, uint32_t roles, cfoil_error_info *error)
{
    int64_t count;
    int32_t result = staff_count(ledger, COUNT_ALL, &count, error);
    if (result != CFOIL_OK)
        return result;
    if (count == 0) {
        return text_acceptable(actor->staff, 1, STAFF_MAX)
                   ? CFOIL_OK
                   : error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA, "Say who does this, in 1 to 32 bytes.");
    }
    if (!actor->signed_in)
        return error_set(error, CFOIL_E_STATE_SIGNED_OUT, 0, AREA,
                         "This ledger has staff codes with PINs: sign in before this.");
    struct staff_row row;
    result = staff_read(ledger, actor->staff, &row, error);
    sodium_memzero(row.pin_hash, sizeof row.pin_hash);
    if (result != CFOIL_OK)
        return result;
    return (roles & ROLE_BIT(row.role)) != 0 ? CFOIL_OK : role_refused(error, actor->staff);
}

int32_t access_ask(struct ledger *ledger, const struct actor *actor, uint32_t roles, cfoil_error_info *error)
{
    os_mutex_lock(ledger->mutex);
    int32_t result = access_check(ledger, actor, roles, error);
    os_mutex_unlock(ledger->mutex);
    return result;
}

/* ---- Signing in ---- */

struct trial {
    const char *staff;
    struct staff_row row;
};

/* Counts the try as a wrong one before anybody knows: who ends the process in between gains nothing. */
static int32_t trial_begin(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    struct trial *trial = user;
    int32_t result = staff_read(ledger, trial->staff, &trial->row, error);
    if (result != CFOIL_OK || !trial->row.there || trial->row.role == CFOIL_ROLE_NONE)
        return result;
    int64_t now = os_time_utc_ms();
    int64_t wait_ms = trial->row.locked_until_utc_ms - now;
    int64_t longest_ms = pin_lock_ms(trial->row.failures); /* a clock that was set back must not lock for days */
    if (wait_ms > longest_ms)
        wait_ms = longest_ms;
    if (wait_ms > 0)
        return error_set(error, CFOIL_E_RULE_LOCKED, 0, AREA, "Too many wrong PINs: wait %lld seconds, then try again.",
                         (long long)(wait_ms + 999) / 1000);
    struct staff_row counted = trial->row;
    counted.failures++;
    counted.locked_until_utc_ms = now + pin_lock_ms(counted.failures);
    result = staff_write(ledger, trial->staff, &counted, error);
    sodium_memzero(&counted, sizeof counted);
    return result;
}

static int32_t trial_won(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    struct trial *trial = user;
    struct row_value values[] = {row_text(trial->staff)};
    return store_result(ledger->store.database,
                        rows_run(ledger->store.database,
                                 "UPDATE staff SET failures = 0, locked_until_utc_ms = 0 WHERE staff = ?1", values, 1),
                        error);
}

int32_t access_sign_in(struct ledger *ledger, const char *staff, const char *pin, int32_t *role,
                       cfoil_error_info *error)
{
    struct trial trial = {.staff = staff};
    int32_t result = ledger_transact(ledger, trial_begin, &trial, error);
    bool known = trial.row.there && trial.row.role != CFOIL_ROLE_NONE;
    if (result == CFOIL_OK)
        result = pin_check(known ? trial.row.pin_hash : NULL, pin, error);
    if (result == CFOIL_OK)
        result = ledger_transact(ledger, trial_won, &trial, error);
    *role = result == CFOIL_OK ? trial.row.role : CFOIL_ROLE_NONE;
    sodium_memzero(&trial, sizeof trial);
    return result;
}

/* ---- Changing staff ---- */

struct staff_change {
    const struct actor *actor;
    const char *staff;
    int32_t role;
    const char *pin_hash; /* NULL = as it is */
    struct ledger_receipt *receipt;
};

/* The first of a ledger is a supervisor; later ones are made by one. Everybody may change the own PIN. */
static int32_t change_check(struct ledger *ledger, const struct staff_change *change, const struct staff_row *row,
                            cfoil_error_info *error)
{
    int64_t count;
    int64_t supervisors;
    int32_t result = staff_count(ledger, COUNT_ALL, &count, error);
    if (result == CFOIL_OK)
        result = staff_count(ledger, COUNT_SUPERVISORS, &supervisors, error);
    if (result != CFOIL_OK)
        return result;
    bool hash_there = change->pin_hash != NULL || (row->there && row->role != CFOIL_ROLE_NONE);
    if (change->role != CFOIL_ROLE_NONE && !hash_there)
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, AREA, "A new staff code needs a PIN.");
    if (count == 0) {
        return change->role == CFOIL_ROLE_SUPERVISOR
                   ? CFOIL_OK
                   : error_set(error, CFOIL_E_RULE_ROLE, 0, AREA, "The first staff code must be a supervisor's.");
    }
    bool own_pin = change->actor->signed_in && row->there && change->role == row->role &&
                   strcmp(change->actor->staff, change->staff) == 0;
    uint32_t roles = own_pin ? ROLES_HANDS | ROLE_BIT(CFOIL_ROLE_AUDITOR) : ROLES_SUPERVISE;
    result = access_check(ledger, change->actor, roles, error);
    if (result != CFOIL_OK)
        return result;
    bool last = supervisors == 1 && row->role == CFOIL_ROLE_SUPERVISOR && change->role != CFOIL_ROLE_SUPERVISOR;
    return last ? error_set(error, CFOIL_E_RULE_ROLE, 0, AREA,
                            "This is the last supervisor: make another one first, then try again.")
                : CFOIL_OK;
}

static char *staff_body(const struct staff_change *change)
{
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.staff/1") &&
                json_text_add(object, "staff", change->staff) &&
                json_text_add(object, "role", role_names[change->role]) &&
                json_flag_add(object, "pin_set", change->pin_hash != NULL) &&
                json_text_add(object, "by", change->actor->signed_in ? change->actor->staff : NULL);
    char *text = good ? json_canonical(object) : NULL;
    cJSON_Delete(object);
    return text;
}

/* Adds an entry whose body was made for it; NULL = no memory. */
static int32_t body_append(struct ledger *ledger, const char *kind, char *body, struct ledger_receipt *receipt,
                           cfoil_error_info *error)
{
    if (body == NULL)
        return error_memory_set(error, AREA);
    struct ledger_item item = {.kind = kind, .time_utc_ms = os_time_utc_ms(), .body = body};
    int32_t result = append_inside(ledger, &item, receipt, error);
    cJSON_free(body);
    return result;
}

static int32_t staff_change_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    const struct staff_change *change = user;
    struct staff_row row;
    int32_t result = staff_read(ledger, change->staff, &row, error);
    if (result == CFOIL_OK)
        result = change_check(ledger, change, &row, error);
    if (result == CFOIL_OK) {
        row.role = change->role;
        if (change->pin_hash != NULL || change->role == CFOIL_ROLE_NONE) {
            text_copy(row.pin_hash, sizeof row.pin_hash, change->pin_hash);
            row.failures = 0;
            row.locked_until_utc_ms = 0;
        }
        result = staff_write(ledger, change->staff, &row, error);
    }
    sodium_memzero(&row, sizeof row);
    return result == CFOIL_OK ? body_append(ledger, LEDGER_KIND_STAFF, staff_body(change), change->receipt, error)
                              : result;
}

int32_t access_staff_set(struct ledger *ledger, const struct actor *actor, const char *staff, int32_t role,
                         const char *pin, struct ledger_receipt *receipt, cfoil_error_info *error)
{
    char hash[PIN_HASH_SIZE];
    struct staff_change change = {actor, staff, role, NULL, receipt};
    if (pin != NULL && role != CFOIL_ROLE_NONE) {
        int32_t result = pin_hash(pin, hash, error); /* slow: not while others wait for the file */
        if (result != CFOIL_OK)
            return result;
        change.pin_hash = hash;
    }
    int32_t result = ledger_transact(ledger, staff_change_run, &change, error);
    sodium_memzero(hash, sizeof hash);
    return result;
}

/* ---- Rules of the store ---- */

struct setting_change {
    const struct actor *actor;
    const char *name;
    const char *value;
    struct ledger_receipt *receipt;
};

static char *setting_body(const struct setting_change *change)
{
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.setting/1") &&
                json_text_add(object, "name", change->name) && json_text_add(object, "value", change->value) &&
                json_text_add(object, "by", change->actor->staff);
    char *text = good ? json_canonical(object) : NULL;
    cJSON_Delete(object);
    return text;
}

static int32_t setting_change_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    const struct setting_change *change = user;
    int32_t result = access_check(ledger, change->actor, ROLES_SUPERVISE, error);
    return result == CFOIL_OK ? body_append(ledger, LEDGER_KIND_SETTING, setting_body(change), change->receipt, error)
                              : result;
}

int32_t access_setting_set(struct ledger *ledger, const struct actor *actor, const char *name, const char *value,
                           struct ledger_receipt *receipt, cfoil_error_info *error)
{
    if (strcmp(name, SETTING_TWO_PERSONS) != 0 || (strcmp(value, "yes") != 0 && strcmp(value, "no") != 0))
        return error_set(error, CFOIL_E_ARGUMENT_SETTING, 0, AREA,
                         "There is no such rule or value: the rule is " SETTING_TWO_PERSONS ", yes or no.");
    struct setting_change change = {actor, name, value, receipt};
    return ledger_transact(ledger, setting_change_run, &change, error);
}

int32_t access_setting_on(struct ledger *ledger, const char *name, bool *on, cfoil_error_info *error)
{
    sqlite3_stmt *row;
    struct row_value values[] = {row_text(name)};
    *on = false;
    int code = rows_begin(ledger->store.database, "SELECT 1 FROM setting WHERE name = ?1 AND value = 'yes'", values, 1,
                          &row);
    if (code != SQLITE_OK)
        return store_result(ledger->store.database, code, error);
    code = sqlite3_step(row);
    *on = code == SQLITE_ROW;
    (void)sqlite3_finalize(row);
    return store_result(ledger->store.database, code == SQLITE_ROW || code == SQLITE_DONE ? SQLITE_OK : code, error);
}
