/*
 * Moves of custody, each an entry of its own: may it be, by whom, and what it says. See keep.h.
 */
#include "ledger/keep.h"

#include "ledger/append.h"
#include "ledger/body.h"
#include "ledger/custody.h"
#include "ledger/rows.h"
#include "model/error.h"
#include "model/json.h"
#include "model/text.h"

#include <string.h>

#define AREA "ledger"

/* Where the note is now. */
struct present {
    enum custody_state state;
    bool found; /* it came from the till, not from a customer */
    char envelope[33];
    char place[65];
    char holder[16];
    char keeper[65];
};

/* ---- What is there ---- */

static int present_row_read(sqlite3_stmt *row, struct present *present)
{
    char state[32] = "";
    int code = row_text_read(row, 0, state, sizeof state);
    code |= row_text_read(row, 1, present->envelope, sizeof present->envelope);
    code |= row_text_read(row, 2, present->place, sizeof present->place);
    code |= row_text_read(row, 3, present->holder, sizeof present->holder);
    present->state = custody_state_find(state);
    present->found = sqlite3_column_int(row, 4) == CFOIL_DISPOSITION_NONE;
    return code;
}

static int32_t present_read(struct ledger *ledger, const char *case_id, struct present *present,
                            cfoil_error_info *error)
{
    sqlite3_stmt *row;
    struct row_value values[] = {row_text(case_id)};
    memset(present, 0, sizeof *present);
    int code = rows_begin(ledger->store.database,
                          "SELECT custody.state, envelope, place, holder, disposition FROM custody"
                          " JOIN case_index USING(case_id) WHERE case_id = ?1",
                          values, 1, &row);
    if (code != SQLITE_OK)
        return store_result(ledger->store.database, code, error);
    code = sqlite3_step(row);
    if (code == SQLITE_ROW)
        code = present_row_read(row, present);
    else if (code == SQLITE_DONE)
        code = SQLITE_OK;
    (void)sqlite3_finalize(row);
    return store_result(ledger->store.database, code, error);
}

/* ---- May it be? ---- */

static int32_t lack_set(cfoil_error_info *error, const char *what)
{
    return error_set(error, CFOIL_E_RULE_CUSTODY, 0, AREA, "This step of a note's custody needs %s.", what);
}

static bool given(const char *text)
{
    return text != NULL && text[0] != '\0';
}

static int32_t needs_check(const struct custody_needs *needs, const cfoil_custody_options *options,
                           cfoil_error_info *error)
{
    if (needs->value && (!given(options->currency) || options->value_minor <= 0))
        return lack_set(error, "the currency and the value of the note");
    if (needs->envelope && !given(options->envelope))
        return lack_set(error, "the number of the envelope");
    if (needs->place && !given(options->place))
        return lack_set(error, "the place where the note is now");
    if (needs->holder && custody_holder_name(options->holder) == NULL)
        return lack_set(error, "who took it over: bank, police or central bank");
    if (needs->receipt && !given(options->receipt))
        return lack_set(error, "the number of the receipt, or of the report");
    if (needs->why && !given(options->why))
        return lack_set(error, "the reason in words");
    return CFOIL_OK;
}

static int32_t legal_check(const struct custody_order *order, const struct present *present, enum custody_state *next,
                           cfoil_error_info *error)
{
    int32_t move = order->options->move;
    if (present->state == CUSTODY_NONE && move != CFOIL_CUSTODY_FIND)
        return error_set(error, CFOIL_E_MISSING_CASE, 0, AREA,
                         "The ledger knows of no such note in custody: look at the list of held notes.");
    *next = custody_next(present->state, move, present->found);
    if (*next == CUSTODY_NONE)
        return error_set(error, CFOIL_E_RULE_CUSTODY, 0, AREA,
                         "A note that is %s cannot make the step %s: look at the table of steps.",
                         custody_state_name(present->state), custody_move_name(move));
    struct custody_needs needs = custody_needs_of(move, present->state);
    return needs_check(&needs, order->options, error);
}

/* What a cashier may do, and what needs a supervisor. */
static uint32_t move_roles(int32_t move)
{
    bool at_the_till = move == CFOIL_CUSTODY_FIND || move == CFOIL_CUSTODY_SEAL || move == CFOIL_CUSTODY_CARRY ||
                       move == CFOIL_CUSTODY_GIVE_BACK;
    return at_the_till ? ROLES_HANDS : ROLES_SUPERVISE;
}

static int32_t second_check(struct ledger *ledger, const struct custody_order *order, bool needed,
                            cfoil_error_info *error)
{
    bool two_persons = false;
    int32_t result = needed ? access_setting_on(ledger, SETTING_TWO_PERSONS, &two_persons, error) : CFOIL_OK;
    if (result != CFOIL_OK || (!two_persons && order->second.staff == NULL))
        return result;
    if (order->second.staff == NULL)
        return error_set(error, CFOIL_E_RULE_SECOND, 0, AREA,
                         "This store asks for two persons here: have a second one confirm it.");
    if (strcmp(order->second.staff, order->actor.staff) == 0)
        return error_set(error, CFOIL_E_RULE_SECOND, 0, AREA, "The second person must be another one than the first.");
    return access_check(ledger, &order->second, ROLES_HANDS, error);
}

/* One note, one envelope: an envelope that holds another note is a slip of the pen. */
static int32_t envelope_check(struct ledger *ledger, const struct custody_order *order, cfoil_error_info *error)
{
    if (order->options->move != CFOIL_CUSTODY_SEAL)
        return CFOIL_OK;
    int64_t used = 0;
    sqlite3_stmt *row;
    struct row_value values[] = {row_text(order->options->envelope), row_text(order->case_id)};
    int code = rows_begin(ledger->store.database,
                          "SELECT count(*) FROM custody WHERE envelope = ?1 AND case_id <> ?2 AND state = 'sealed'",
                          values, 2, &row);
    if (code != SQLITE_OK)
        return store_result(ledger->store.database, code, error);
    code = sqlite3_step(row);
    if (code == SQLITE_ROW)
        used = sqlite3_column_int64(row, 0);
    (void)sqlite3_finalize(row);
    if (code != SQLITE_ROW)
        return store_result(ledger->store.database, code, error);
    return used == 0 ? CFOIL_OK
                     : error_set(error, CFOIL_E_STATE_EXISTS, 0, AREA,
                                 "Envelope %.32s holds another note: look at the number, or take a new envelope.",
                                 order->options->envelope);
}

/* ---- The entry ---- */

/* What the move leaves as it is stays as it was. */
static void present_move(const cfoil_custody_options *options, enum custody_state next, struct present *present)
{
    present->state = next;
    if (given(options->envelope))
        text_copy(present->envelope, sizeof present->envelope, options->envelope);
    bool stays = next == CUSTODY_SEALED || options->move == CFOIL_CUSTODY_CARRY;
    if (given(options->place) || !stays)
        text_copy(present->place, sizeof present->place, options->place);
    if (given(options->keeper))
        text_copy(present->keeper, sizeof present->keeper, options->keeper);
    const char *holder = "shop";
    if (next == CUSTODY_GIVEN_BACK)
        holder = "customer";
    else if (options->move == CFOIL_CUSTODY_HAND_OVER)
        holder = custody_holder_name(options->holder);
    else if (next == CUSTODY_NOT_GENUINE)
        holder = present->holder; /* it stays with the authority */
    if (holder != present->holder)
        text_copy(present->holder, sizeof present->holder, holder);
}

static bool optional_add(cJSON *object, const char *key, const char *text)
{
    return json_text_add(object, key, given(text) ? text : NULL);
}

static bool found_add(cJSON *object, const cfoil_custody_options *options)
{
    if (options->move != CFOIL_CUSTODY_FIND)
        return true;
    return json_text_add(object, "currency", options->currency) &&
           json_integer_add(object, "value_minor", options->value_minor) &&
           optional_add(object, "serial", options->serial) && optional_add(object, "lane", options->lane);
}

static char *move_body(const struct custody_order *order, enum custody_state from, const struct present *present)
{
    const cfoil_custody_options *options = order->options;
    char happened[TEXT_TIME_SIZE];
    text_time(options->happened_utc_ms != 0 ? options->happened_utc_ms : order->now_utc_ms, happened);
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.custody/1") &&
                json_text_add(object, "case", order->case_id) &&
                json_text_add(object, "move", custody_move_name(options->move)) &&
                optional_add(object, "from", custody_state_name(from)) &&
                json_text_add(object, "state", custody_state_name(present->state)) &&
                json_text_add(object, "staff", order->actor.staff) &&
                json_flag_add(object, "signed_in", order->actor.signed_in) &&
                optional_add(object, "second", order->second.staff) &&
                optional_add(object, "envelope", present->envelope) && optional_add(object, "place", present->place) &&
                optional_add(object, "holder", present->holder) && optional_add(object, "keeper", present->keeper) &&
                optional_add(object, "receipt", options->receipt) && optional_add(object, "why", options->why) &&
                json_text_add(object, "happened", happened) && found_add(object, options);
    char *text = good ? json_canonical(object) : NULL;
    cJSON_Delete(object);
    return text;
}

/* ---- The move ---- */

struct move_run {
    const struct custody_order *order;
    struct ledger_receipt *receipt;
};

static int32_t move_append(struct ledger *ledger, const struct move_run *run, enum custody_state next,
                           struct present *present, cfoil_error_info *error)
{
    enum custody_state from = present->state;
    present_move(run->order->options, next, present);
    char *body = move_body(run->order, from, present);
    if (body == NULL)
        return error_memory_set(error, AREA);
    struct ledger_item item = {.kind = LEDGER_KIND_CUSTODY, .time_utc_ms = run->order->now_utc_ms, .body = body};
    int32_t result = append_inside(ledger, &item, run->receipt, error);
    cJSON_free(body);
    return result;
}

static int32_t move_inside(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    const struct move_run *run = user;
    const struct custody_order *order = run->order;
    struct present present;
    enum custody_state next = CUSTODY_NONE;
    int32_t result = access_check(ledger, &order->actor, move_roles(order->options->move), error);
    if (result == CFOIL_OK)
        result = present_read(ledger, order->case_id, &present, error);
    if (result == CFOIL_OK)
        result = legal_check(order, &present, &next, error);
    if (result == CFOIL_OK)
        result = second_check(ledger, order, custody_needs_of(order->options->move, present.state).second, error);
    if (result == CFOIL_OK)
        result = envelope_check(ledger, order, error);
    return result == CFOIL_OK ? move_append(ledger, run, next, &present, error) : result;
}

int32_t keep_move(struct ledger *ledger, const struct custody_order *order, struct ledger_receipt *receipt,
                  cfoil_error_info *error)
{
    struct move_run run = {order, receipt};
    if (custody_move_name(order->options->move) == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "The step must be one of CFOIL_CUSTODY_*.");
    return ledger_transact(ledger, move_inside, &run, error);
}
