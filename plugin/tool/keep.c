/*
 * counterfoil held, custody, reconcile, cases, tender, staff, rule and key: kept notes, open cases, who may do what.
 */
#include "commands.h"
#include "host.h"
#include "pin_ask.h"
#include "print.h"
#include "values.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- Lists ---- */

/* One item a line, as a person reads a list; the JSON stays JSON. */
static void items_print(const char *text)
{
    int depth = 0;
    bool quoted = false;
    for (const char *at = text; *at != '\0'; at++) {
        bool opens = !quoted && (*at == '{' || *at == '[');
        bool closes = !quoted && (*at == '}' || *at == ']');
        if (opens && depth++ == 2)
            fputs("\n  ", stdout);
        if (*at == '"' && (at == text || at[-1] != '\\'))
            quoted = !quoted;
        depth -= closes;
        putchar(*at);
    }
    putchar('\n');
}

struct list_wish {
    cfoil_ledger *ledger;
    int32_t list;
    const char *only;
};

static int32_t list_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct list_wish *wish = user;
    return cfoil_ledger_list_json(wish->ledger, wish->list, wish->only, buffer, capacity, needed);
}

/* Opens the ledger, fetches, prints. */
static int list_run(const struct arguments *arguments, int32_t list, const char *only)
{
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    struct list_wish wish = {host.ledger, list, only};
    int32_t result;
    char *text = text_fetch(list_source, &wish, &result);
    if (text == NULL)
        code = failure_report(host.ledger, result, "cannot make the list");
    else if (arguments->values[OPTION_JSON] != NULL)
        printf("%s\n", text);
    else
        items_print(text);
    free(text);
    host_close(&host);
    return code;
}

int held_run(const struct arguments *arguments)
{
    const char *state = arguments->values[OPTION_STATE];
    return list_run(arguments, CFOIL_LIST_CUSTODY, state == NULL ? "held" : strcmp(state, "all") == 0 ? NULL : state);
}

int cases_run(const struct arguments *arguments)
{
    bool one = arguments->word_count == 1;
    if (one == (arguments->values[OPTION_OPEN] != NULL)) {
        complain("cases needs a wish; give --open for the cases that have not ended, or the id of one case");
        return TOOL_USAGE;
    }
    return one ? list_run(arguments, CFOIL_LIST_CASE, arguments->words[0])
               : list_run(arguments, CFOIL_LIST_OPEN_CASES, arguments->values[OPTION_LANE]);
}

/* ---- A step of custody ---- */

static bool word_place(const char *word, const char *const *words, int32_t count, int32_t *place)
{
    for (int32_t i = 0; i < count; i++) {
        if (strcmp(word, words[i]) == 0) {
            *place = i + 1;
            return true;
        }
    }
    return false;
}

static bool step_read(const struct arguments *arguments, cfoil_custody_options *options)
{
    static const char *const moves[] = {"find",    "seal",        "carry", "hand-over",
                                        "genuine", "not-genuine", "lose",  "give-back"};
    static const char *const holders[] = {"bank", "police", "central-bank"};
    const char *holder = arguments->values[OPTION_HOLDER];
    const char *value = arguments->values[OPTION_VALUE];
    const char *currency = arguments->values[OPTION_CURRENCY];
    if (!word_place(arguments->words[0], moves, 8, &options->move)) {
        complain("'%s' is no step; give find, seal, carry, hand-over, genuine, not-genuine, lose or give-back",
                 arguments->words[0]);
        return false;
    }
    if (holder != NULL && !word_place(holder, holders, 3, &options->holder)) {
        complain("--holder '%s' is unknown; give bank, police or central-bank", holder);
        return false;
    }
    if (value != NULL && !amount_parse(value, currency != NULL ? currency : "EUR", &options->value_minor)) {
        complain("--value '%s' is not the value of a note; give for example 50", value);
        return false;
    }
    options->case_id = arguments->word_count > 1 ? arguments->words[1] : NULL;
    options->currency = currency != NULL ? currency : value != NULL ? "EUR" : NULL;
    options->envelope = arguments->values[OPTION_ENVELOPE];
    options->place = arguments->values[OPTION_PLACE];
    options->keeper = arguments->values[OPTION_KEEPER];
    options->receipt = arguments->values[OPTION_RECEIPT];
    options->why = arguments->values[OPTION_WHY];
    options->serial = arguments->values[OPTION_NUMBER];
    options->lane = arguments->values[OPTION_LANE];
    return true;
}

static void record_print(const struct arguments *arguments, const cfoil_record *record)
{
    if (arguments->values[OPTION_JSON] == NULL) {
        printf("case   %s\nrecord %lld\nhash   %s\n", record->case_id, (long long)record->entry, record->hash);
        return;
    }
    printf("{\"case\":\"%s\",\"entry\":%lld,\"hash\":\"%s\"}\n", record->case_id, (long long)record->entry,
           record->hash);
}

/* Without --pin the names are enough, or the library says that they are not. */
static int persons_sign_in(const struct arguments *arguments, struct host *host, cfoil_custody_options *options)
{
    options->staff = arguments->values[OPTION_STAFF];
    options->second = arguments->values[OPTION_SECOND];
    if (arguments->values[OPTION_PIN] == NULL)
        return TOOL_OK;
    int code = pin_sign_in(host, options->staff, "PIN", &options->session);
    if (code == TOOL_OK && options->second != NULL)
        code = pin_sign_in(host, options->second, "PIN of the second person", &options->second_session);
    return code;
}

int custody_run(const struct arguments *arguments)
{
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    cfoil_record record = CFOIL_RECORD_INIT;
    struct host host;
    if (!step_read(arguments, &options))
        return TOOL_USAGE;
    int code = host_open(arguments, LEDGER_WRITE, &host);
    if (code != TOOL_OK)
        return code;
    code = persons_sign_in(arguments, &host, &options);
    if (code == TOOL_OK) {
        int32_t result = cfoil_custody_move(host.ledger, &options, &record);
        if (result == CFOIL_OK)
            record_print(arguments, &record);
        else
            code = failure_report(host.ledger, result, "the step was not recorded");
    }
    cfoil_sign_out(options.session);
    cfoil_sign_out(options.second_session);
    host_close(&host);
    return code;
}

/* ---- The count ---- */

/* The words as a JSON array; NULL = no memory. */
static char *words_json(const struct arguments *arguments)
{
    size_t size = 3;
    for (int i = 0; i < arguments->word_count; i++)
        size += 6 * strlen(arguments->words[i]) + 3;
    char *text = malloc(size);
    FILE *out = text != NULL ? fmemopen(text, size, "w") : NULL;
    if (out == NULL) {
        free(text);
        return NULL;
    }
    fputc('[', out);
    for (int i = 0; i < arguments->word_count; i++) {
        fputs(i > 0 ? "," : "", out);
        print_json_string(out, arguments->words[i]);
    }
    fputc(']', out);
    fclose(out);
    return text;
}

struct count_wish {
    cfoil_ledger *ledger;
    cfoil_reconcile_options options;
};

static int32_t count_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct count_wish *wish = user;
    return cfoil_reconcile_json(wish->ledger, &wish->options, buffer, capacity, needed);
}

static int count_print(const struct arguments *arguments, struct count_wish *wish)
{
    int32_t result;
    char *text = text_fetch(count_source, wish, &result);
    if (text == NULL)
        return failure_report(wish->ledger, result, "cannot hold the envelopes against the ledger");
    int code = strstr(text, "\"agrees\":true") != NULL ? TOOL_OK : TOOL_FAILED;
    if (arguments->values[OPTION_JSON] != NULL)
        printf("%s\n", text);
    else
        items_print(text);
    free(text);
    return code;
}

int reconcile_run(const struct arguments *arguments)
{
    struct count_wish wish = {NULL, CFOIL_RECONCILE_OPTIONS_INIT};
    int64_t last_day_ms = -1;
    if (!arguments_day(arguments, OPTION_FROM, &wish.options.from_utc_ms) ||
        !arguments_day(arguments, OPTION_TO, &last_day_ms))
        return TOOL_USAGE;
    wish.options.until_utc_ms = last_day_ms >= 0 ? last_day_ms + DAY_MS : 0;
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    char *envelopes = words_json(arguments);
    wish.ledger = host.ledger;
    wish.options.envelopes = envelopes;
    code = envelopes != NULL ? count_print(arguments, &wish)
                             : failure_report(NULL, CFOIL_E_MEMORY, "cannot hold the envelopes against the ledger");
    free(envelopes);
    host_close(&host);
    return code;
}

/* ---- The sale ---- */

static void tender_print(const struct arguments *arguments, const cfoil_tender *tender)
{
    static const char *const words[] = {"free", "case_open", "refused_note"};
    if (arguments->values[OPTION_JSON] == NULL) {
        printf("%s\n", tender->text);
        if (tender->case_id[0] != '\0')
            printf("case   %s\n", tender->case_id);
        return;
    }
    printf("{\"verdict\":\"%s\",\"open\":%u,\"refused\":%u,\"taken\":%u,\"no_decision\":%u,\"refused_minor\":%lld,"
           "\"currency\":\"%s\",\"case\":\"%s\"}\n",
           words[tender->verdict - CFOIL_TENDER_FREE], (unsigned)tender->open, (unsigned)tender->refused,
           (unsigned)tender->taken, (unsigned)tender->no_decision, (long long)tender->refused_minor, tender->currency,
           tender->case_id);
}

int tender_run(const struct arguments *arguments)
{
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    cfoil_tender tender = CFOIL_TENDER_INIT;
    int32_t result = cfoil_tender_check(host.ledger, arguments->words[0], &tender);
    if (result == CFOIL_OK) {
        tender_print(arguments, &tender);
        code = tender.verdict == CFOIL_TENDER_FREE ? TOOL_OK : TOOL_FAILED;
    } else {
        code = failure_report(host.ledger, result, "cannot look at the sale");
    }
    host_close(&host);
    return code;
}

/* ---- Staff and rules ---- */

static bool role_read(const char *word, int32_t *role)
{
    static const char *const roles[] = {"none", "cashier", "supervisor", "auditor"};
    if (!word_place(word, roles, 4, role)) {
        complain("'%s' is no role; give cashier, supervisor, auditor, or none for somebody who left", word);
        return false;
    }
    --*role;
    return true;
}

/* With --staff a person signs in first. */
static int changer_sign_in(const struct arguments *arguments, struct host *host, cfoil_session **session)
{
    const char *staff = arguments->values[OPTION_STAFF];
    bool asked = staff != NULL && arguments->values[OPTION_PIN] != NULL;
    return asked ? pin_sign_in(host, staff, "PIN", session) : TOOL_OK;
}

static int staff_set(const struct arguments *arguments, int32_t role)
{
    char pin[PIN_SIZE] = "";
    cfoil_session *session = NULL;
    struct host host;
    int code = host_open(arguments, LEDGER_WRITE, &host);
    if (code != TOOL_OK)
        return code;
    code = changer_sign_in(arguments, &host, &session);
    if (code == TOOL_OK && role != CFOIL_ROLE_NONE)
        code = pin_ask("new PIN (empty = as it is)", pin);
    if (code == TOOL_OK) {
        int32_t result = cfoil_staff_set(host.ledger, session, arguments->words[0], role, pin[0] != '\0' ? pin : NULL);
        if (result != CFOIL_OK)
            code = failure_report(host.ledger, result, "the staff code was not changed");
    }
    pin_wipe(pin);
    cfoil_sign_out(session);
    host_close(&host);
    return code;
}

int staff_run(const struct arguments *arguments)
{
    int32_t role;
    if (arguments->word_count == 0)
        return list_run(arguments, CFOIL_LIST_STAFF, NULL);
    if (arguments->word_count == 1) {
        complain("staff needs a code and a role; see 'counterfoil help staff'");
        return TOOL_USAGE;
    }
    return role_read(arguments->words[1], &role) ? staff_set(arguments, role) : TOOL_USAGE;
}

int rule_run(const struct arguments *arguments)
{
    if (arguments->word_count == 0)
        return list_run(arguments, CFOIL_LIST_SETTINGS, NULL);
    if (arguments->word_count == 1) {
        complain("rule needs a name and a value; see 'counterfoil help rule'");
        return TOOL_USAGE;
    }
    cfoil_session *session = NULL;
    struct host host;
    int code = host_open(arguments, LEDGER_WRITE, &host);
    if (code != TOOL_OK)
        return code;
    code = changer_sign_in(arguments, &host, &session);
    if (code == TOOL_OK) {
        int32_t result = cfoil_setting_set(host.ledger, session, arguments->values[OPTION_STAFF], arguments->words[0],
                                           arguments->words[1]);
        if (result != CFOIL_OK)
            code = failure_report(host.ledger, result, "the rule was not changed");
    }
    cfoil_sign_out(session);
    host_close(&host);
    return code;
}

/* ---- The store's key ---- */

static void signed_print(bool json, const cfoil_record *record)
{
    printf(json ? "{\"entry\":%lld,\"hash\":\"%s\"}\n" : "Signed: entry %lld, hash %s\n", (long long)record->entry,
           record->hash);
}

int key_run(const struct arguments *arguments)
{
    if (arguments->word_count == 0)
        return list_run(arguments, CFOIL_LIST_KEYS, NULL);
    static const char *const words[] = {"sign", "new"};
    int32_t what;
    if (!word_place(arguments->words[0], words, 2, &what)) {
        complain("'%s' is nothing to do with a key; give sign or new", arguments->words[0]);
        return TOOL_USAGE;
    }
    cfoil_session *session = NULL;
    struct host host;
    int code = host_open(arguments, LEDGER_WRITE, &host);
    if (code != TOOL_OK)
        return code;
    code = changer_sign_in(arguments, &host, &session);
    if (code == TOOL_OK) {
        cfoil_record record = CFOIL_RECORD_INIT;
        int32_t result = cfoil_ledger_sign(host.ledger, what, session, arguments->values[OPTION_STAFF], &record);
        if (result == CFOIL_OK)
            signed_print(arguments->values[OPTION_JSON] != NULL, &record);
        else
            code = failure_report(host.ledger, result, "nothing was signed");
    }
    cfoil_sign_out(session);
    host_close(&host);
    return code;
}
