/*
 * One checkout. See shop.h. One thread waits for the machine; every screen's thread takes the lock for as long as a call
 * takes. Whatever changed makes `version` grow, which wakes those who show it.
 */
#include "shop.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define LANE_NAME "checkout"

enum { EVENTS_SHOWN = 8, NOTES_WAITING = 16, WAIT_MS = 200 };

struct shop {
    pthread_mutex_t lock;
    pthread_cond_t news;
    uint64_t version;
    bool closing;
    pthread_t thread;
    bool thread_runs;

    cfoil_context *context;
    cfoil_ledger *ledger;
    cfoil_lane *lane;
    char currency[4];
    char jurisdiction[17];
    char language[17];

    cfoil_event shown[EVENTS_SHOWN];
    uint32_t shown_count;
    cfoil_event waiting[NOTES_WAITING]; /* refused, and not looked at yet */
    uint32_t waiting_count;

    cfoil_case *doubt;
    int64_t turn; /* grows with each thing that is told to the case */
    cfoil_record last;
};

/* ---- Small things ---- */

static void news_tell(struct shop *shop)
{
    shop->version++;
    pthread_cond_broadcast(&shop->news);
}

static int32_t told_take(struct shop *shop, const void *handle, int32_t result, char told[SHOP_TOLD_SIZE])
{
    (void)shop;
    told[0] = '\0';
    if (result == CFOIL_OK)
        return result;
    cfoil_error_info info = CFOIL_ERROR_INFO_INIT;
    bool known = handle != NULL && cfoil_error_read(handle, &info) == CFOIL_OK && info.result == result;
    snprintf(told, SHOP_TOLD_SIZE, "%s", known && info.text[0] != '\0' ? info.text : cfoil_error_text(result));
    return result;
}

typedef int32_t (*text_call)(void *user, char *buffer, size_t capacity, size_t *needed);

/* A text of unknown length: ask, then fetch; once more when it grew in between. */
static char *text_fetch(text_call call, void *user)
{
    size_t needed = 0;
    char *text = NULL;
    int32_t result = call(user, NULL, 0, &needed);
    while (result == CFOIL_E_ARGUMENT_BUFFER) {
        free(text);
        text = malloc(needed);
        if (text == NULL)
            return NULL;
        result = call(user, text, needed, &needed);
    }
    if (result == CFOIL_OK && text != NULL)
        return text;
    free(text);
    return NULL;
}

static int32_t case_text(void *user, char *buffer, size_t capacity, size_t *needed)
{
    return cfoil_case_json(user, buffer, capacity, needed);
}

static int32_t picture_text(void *user, char *buffer, size_t capacity, size_t *needed)
{
    return cfoil_case_picture(user, buffer, capacity, needed);
}

static cJSON *case_document(cfoil_case *doubt)
{
    char *text = text_fetch(case_text, doubt);
    cJSON *object = cJSON_Parse(text);
    free(text);
    return object;
}

/* ---- Cases ---- */

static cfoil_case_options case_options_make(const struct shop *shop, int64_t value_minor)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.ledger = shop->ledger;
    options.currency = shop->currency;
    options.value_minor = value_minor;
    options.jurisdiction = shop->jurisdiction;
    options.language = shop->language;
    options.lane = LANE_NAME;
    return options;
}

/* Opens a case for the note that waits longest, or for one that no machine saw. */
static int32_t case_begin(struct shop *shop, const char *currency, int64_t value_minor)
{
    cfoil_case_options options = case_options_make(shop, value_minor);
    options.currency = currency;
    int32_t result = cfoil_case_open(shop->context, &options, &shop->doubt);
    if (result != CFOIL_OK)
        return result;
    shop->turn++;
    if (shop->waiting_count == 0)
        return CFOIL_OK;
    cfoil_event event = shop->waiting[0];
    memmove(shop->waiting, shop->waiting + 1, --shop->waiting_count * sizeof event);
    return cfoil_case_presentation_add(shop->doubt, &event);
}

/* A note whose value the machine told needs nobody's word to be looked at. */
static void waiting_try(struct shop *shop)
{
    if (shop->doubt != NULL || shop->waiting_count == 0)
        return;
    char currency[4];
    snprintf(currency, sizeof currency, "%.3s", shop->waiting[0].currency);
    if (currency[0] != '\0')
        (void)case_begin(shop, currency, shop->waiting[0].value_minor);
}

struct list_wish {
    cfoil_ledger *ledger;
};

static int32_t open_cases_text(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct list_wish *wish = user;
    return cfoil_ledger_list_json(wish->ledger, CFOIL_LIST_OPEN_CASES, LANE_NAME, buffer, capacity, needed);
}

/* Takes up a case that was open when the program ended. */
static void resume_try(struct shop *shop)
{
    struct list_wish wish = {shop->ledger};
    char *text = text_fetch(open_cases_text, &wish);
    cJSON *list = cJSON_Parse(text);
    free(text);
    const cJSON *item;
    cJSON_ArrayForEach(item, cJSON_GetObjectItem(list, "items"))
    {
        const char *id = cJSON_GetStringValue(cJSON_GetObjectItem(item, "case_id"));
        if (id != NULL && cfoil_case_resume(shop->context, shop->ledger, id, &shop->doubt) == CFOIL_OK) {
            shop->turn++;
            break;
        }
    }
    cJSON_Delete(list);
}

/* ---- The machine ---- */

static void event_keep(struct shop *shop, const cfoil_event *event)
{
    if (shop->shown_count == EVENTS_SHOWN)
        memmove(shop->shown, shop->shown + 1, --shop->shown_count * sizeof *event);
    shop->shown[shop->shown_count++] = *event;
}

static bool in_doubt(const cfoil_event *event)
{
    return event->kind == CFOIL_KIND_REJECTED &&
           (event->reason == CFOIL_REASON_AUTHENTICITY || event->reason == CFOIL_REASON_NOT_RECOGNISED);
}

static void event_follow(struct shop *shop, const cfoil_event *event)
{
    event_keep(shop, event);
    /* While a note is being looked at no other is taken: the cashier has two hands. */
    if (event->kind == CFOIL_KIND_HELD && shop->doubt == NULL)
        (void)cfoil_note_stack(shop->lane, event->presentation);
    else if (event->kind == CFOIL_KIND_HELD)
        (void)cfoil_note_return(shop->lane, event->presentation);
    if (in_doubt(event) && shop->waiting_count < NOTES_WAITING)
        shop->waiting[shop->waiting_count++] = *event;
    waiting_try(shop);
    news_tell(shop);
}

static void *machine_run(void *user)
{
    struct shop *shop = user;
    for (;;) {
        cfoil_event event = CFOIL_EVENT_INIT;
        int32_t result = cfoil_lane_wait(shop->lane, WAIT_MS, &event);
        if (result == CFOIL_E_TIME_OUT)
            continue;
        if (result != CFOIL_OK)
            return NULL; /* shut down, or the lane is gone: its last state is on the screen */
        pthread_mutex_lock(&shop->lock);
        event_follow(shop, &event);
        pthread_mutex_unlock(&shop->lock);
    }
}

/* ---- Opening and closing ---- */

static bool opened(const struct shop *shop, int32_t result, const char *what)
{
    char told[SHOP_TOLD_SIZE];
    if (result == CFOIL_OK)
        return true;
    (void)told_take(NULL, shop->context, result, told);
    fprintf(stderr, "checkout: cannot open %s: %s\n", what, told);
    return false;
}

static bool lane_begin(struct shop *shop, const struct shop_options *options)
{
    if (options->adapter == NULL)
        return true;
    cfoil_lane_options lane = CFOIL_LANE_OPTIONS_INIT;
    lane.accept = CFOIL_ACCEPT_HOLD;
    lane.name = LANE_NAME;
    lane.adapter = options->adapter;
    lane.port = options->port;
    lane.ledger = shop->ledger;
    if (!opened(shop, cfoil_lane_open(shop->context, &lane, &shop->lane), "the lane"))
        return false;
    shop->thread_runs = pthread_create(&shop->thread, NULL, machine_run, shop) == 0;
    return shop->thread_runs;
}

static bool shop_begin(struct shop *shop, const struct shop_options *options)
{
    snprintf(shop->currency, sizeof shop->currency, "%s", options->currency);
    snprintf(shop->jurisdiction, sizeof shop->jurisdiction, "%s",
             options->jurisdiction != NULL ? options->jurisdiction : "");
    snprintf(shop->language, sizeof shop->language, "%s", options->language);
    if (cfoil_context_open(NULL, &shop->context) != CFOIL_OK) {
        fprintf(stderr, "checkout: cannot open the library\n");
        return false;
    }
    cfoil_ledger_options ledger = CFOIL_LEDGER_OPTIONS_INIT;
    ledger.path = options->ledger;
    if (!opened(shop, cfoil_ledger_open(shop->context, &ledger, &shop->ledger), "the ledger"))
        return false;
    resume_try(shop);
    return lane_begin(shop, options);
}

struct shop *shop_open(const struct shop_options *options)
{
    struct shop *shop = calloc(1, sizeof *shop);
    if (shop == NULL)
        return NULL;
    pthread_condattr_t clock;
    pthread_mutex_init(&shop->lock, NULL);
    pthread_condattr_init(&clock);
    pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
    pthread_cond_init(&shop->news, &clock);
    pthread_condattr_destroy(&clock);
    shop->version = 1;
    if (shop_begin(shop, options))
        return shop;
    shop_close(shop);
    return NULL;
}

void shop_news_end(struct shop *shop)
{
    pthread_mutex_lock(&shop->lock);
    shop->closing = true;
    news_tell(shop);
    pthread_mutex_unlock(&shop->lock);
}

void shop_close(struct shop *shop)
{
    if (shop->context != NULL)
        (void)cfoil_context_shutdown(shop->context);
    if (shop->thread_runs)
        pthread_join(shop->thread, NULL);
    cfoil_lane_close(shop->lane);
    /* Closing a case records that nobody decided. One that is still open is left as it stands in the ledger instead, and is
     * taken up when the program starts again; the process ends now. */
    if (shop->doubt == NULL)
        cfoil_context_close(shop->context);
    pthread_cond_destroy(&shop->news);
    pthread_mutex_destroy(&shop->lock);
    free(shop);
}

/* ---- What screens show ---- */

uint64_t shop_news_wait(struct shop *shop, uint64_t seen, uint32_t timeout_ms)
{
    struct timespec until;
    clock_gettime(CLOCK_MONOTONIC, &until);
    until.tv_sec += timeout_ms / 1000;
    pthread_mutex_lock(&shop->lock);
    int late = 0;
    while (!shop->closing && shop->version == seen && late == 0)
        late = pthread_cond_timedwait(&shop->news, &shop->lock, &until);
    uint64_t version = shop->closing ? 0 : shop->version;
    pthread_mutex_unlock(&shop->lock);
    return version;
}

static void events_add(cJSON *state, const struct shop *shop)
{
    cJSON *list = cJSON_AddArrayToObject(state, "events");
    for (uint32_t i = 0; i < shop->shown_count; i++) {
        char text[4096];
        if (cfoil_event_json(&shop->shown[i], text, sizeof text, NULL) == CFOIL_OK)
            cJSON_AddItemToArray(list, cJSON_Parse(text));
    }
}

static void case_add(cJSON *state, const struct shop *shop)
{
    cJSON *document = shop->doubt != NULL ? case_document(shop->doubt) : NULL;
    cJSON_DeleteItemFromObject(document, "working"); /* for experts: never on a cashier's screen */
    cJSON_AddItemToObject(state, "case", document != NULL ? document : cJSON_CreateNull());
    cJSON_AddNumberToObject(state, "turn", (double)shop->turn);
}

static void last_add(cJSON *state, const struct shop *shop)
{
    if (shop->last.entry == 0) {
        cJSON_AddNullToObject(state, "last");
        return;
    }
    static const char *const words[] = {"none", "taken", "not_taken", "set_aside", "abandoned"};
    cJSON *last = cJSON_AddObjectToObject(state, "last");
    cJSON_AddStringToObject(last, "case", shop->last.case_id);
    cJSON_AddNumberToObject(last, "record", (double)shop->last.entry);
    cJSON_AddStringToObject(
        last, "disposition",
        words[shop->last.disposition >= 0 && shop->last.disposition <= 4 ? shop->last.disposition : 0]);
}

char *shop_state(struct shop *shop)
{
    cJSON *state = cJSON_CreateObject();
    pthread_mutex_lock(&shop->lock);
    cJSON_AddNumberToObject(state, "version", (double)shop->version);
    cJSON_AddStringToObject(state, "language", shop->language);
    cJSON_AddStringToObject(state, "currency", shop->currency);
    cJSON_AddBoolToObject(state, "machine", shop->lane != NULL);
    cJSON_AddNumberToObject(state, "waiting", shop->waiting_count);
    events_add(state, shop);
    case_add(state, shop);
    last_add(state, shop);
    pthread_mutex_unlock(&shop->lock);
    char *text = cJSON_PrintUnformatted(state);
    cJSON_Delete(state);
    return text;
}

/* ---- What a cashier does ---- */

struct message_wish {
    const struct shop *shop;
    const char *key;
};

static int32_t message_text(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct message_wish *wish = user;
    return cfoil_message(wish->shop->context, wish->shop->language, wish->key, NULL, 0, buffer, capacity, needed);
}

char *shop_message(struct shop *shop, const char *key)
{
    struct message_wish wish = {shop, key};
    pthread_mutex_lock(&shop->lock);
    char *text = text_fetch(message_text, &wish);
    pthread_mutex_unlock(&shop->lock);
    return text;
}

int32_t shop_language_set(struct shop *shop, const char *language, char told[SHOP_TOLD_SIZE])
{
    size_t needed;
    pthread_mutex_lock(&shop->lock);
    int32_t result = cfoil_message(shop->context, language, "caution", NULL, 0, NULL, 0, &needed);
    if (result == CFOIL_E_ARGUMENT_BUFFER) { /* the language is there */
        result = CFOIL_OK;
        snprintf(shop->language, sizeof shop->language, "%s", language);
        news_tell(shop);
    }
    told_take(shop, shop->context, result, told);
    pthread_mutex_unlock(&shop->lock);
    return result;
}

int32_t shop_case_open(struct shop *shop, int64_t value_minor, char told[SHOP_TOLD_SIZE])
{
    pthread_mutex_lock(&shop->lock);
    int32_t result = shop->doubt == NULL ? case_begin(shop, shop->currency, value_minor) : SHOP_STALE;
    if (result != SHOP_STALE)
        told_take(shop, shop->context, result, told);
    news_tell(shop);
    pthread_mutex_unlock(&shop->lock);
    return result;
}

/* Is this the case that the screen shows, as it stands there? Two screens must not both answer one question. */
static bool screen_current(const struct shop *shop, const char *case_id, int64_t turn)
{
    if (shop->doubt == NULL || shop->turn != turn)
        return false;
    cJSON *document = case_document(shop->doubt);
    const char *id = cJSON_GetStringValue(cJSON_GetObjectItem(document, "case"));
    bool same = id != NULL && strcmp(id, case_id) == 0;
    cJSON_Delete(document);
    return same;
}

static void case_told(struct shop *shop, int32_t result)
{
    if (result == CFOIL_OK)
        shop->turn++;
    news_tell(shop);
}

int32_t shop_answer(struct shop *shop, const char *case_id, int64_t turn, const char *check, int32_t answer,
                    char told[SHOP_TOLD_SIZE])
{
    int32_t result = SHOP_STALE;
    pthread_mutex_lock(&shop->lock);
    if (screen_current(shop, case_id, turn)) {
        result = told_take(shop, shop->doubt, cfoil_case_answer(shop->doubt, check, answer), told);
        case_told(shop, result);
    }
    pthread_mutex_unlock(&shop->lock);
    return result;
}

int32_t shop_serial_set(struct shop *shop, const char *case_id, int64_t turn, const char *serial,
                        char told[SHOP_TOLD_SIZE])
{
    int32_t result = SHOP_STALE;
    pthread_mutex_lock(&shop->lock);
    if (screen_current(shop, case_id, turn)) {
        cfoil_serial read = CFOIL_SERIAL_INIT;
        result = told_take(shop, shop->doubt, cfoil_case_serial_set(shop->doubt, serial, &read), told);
        if (result == CFOIL_OK)
            snprintf(told, SHOP_TOLD_SIZE, "%s", read.text);
        case_told(shop, result);
    }
    pthread_mutex_unlock(&shop->lock);
    return result;
}

int32_t shop_dispose(struct shop *shop, const char *case_id, int64_t turn, cfoil_disposition_options *options,
                     char told[SHOP_TOLD_SIZE])
{
    int32_t result = SHOP_STALE;
    pthread_mutex_lock(&shop->lock);
    if (screen_current(shop, case_id, turn)) {
        cfoil_record record = CFOIL_RECORD_INIT;
        result = told_take(shop, shop->doubt, cfoil_case_dispose(shop->doubt, options, &record), told);
        if (result == CFOIL_OK) {
            shop->last = record;
            cfoil_case_close(shop->doubt);
            shop->doubt = NULL;
            resume_try(shop);
            waiting_try(shop);
        }
        case_told(shop, result);
    }
    pthread_mutex_unlock(&shop->lock);
    return result;
}

/* ---- Documents ---- */

char *shop_picture(struct shop *shop)
{
    pthread_mutex_lock(&shop->lock);
    char *text = shop->doubt != NULL ? text_fetch(picture_text, shop->doubt) : NULL;
    pthread_mutex_unlock(&shop->lock);
    return text;
}

struct receipt_wish {
    const struct shop *shop;
    cfoil_paper_options options;
};

static int32_t receipt_text(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct receipt_wish *wish = user;
    return cfoil_paper_write(wish->shop->ledger, &wish->options, buffer, capacity, needed);
}

char *shop_receipt(struct shop *shop, const char *case_id)
{
    struct receipt_wish wish = {.shop = shop, .options = CFOIL_PAPER_OPTIONS_INIT};
    wish.options.kind = CFOIL_PAPER_RECEIPT;
    wish.options.format = CFOIL_PAPER_HTML;
    wish.options.case_id = case_id;
    pthread_mutex_lock(&shop->lock);
    wish.options.language = shop->language;
    char *text = text_fetch(receipt_text, &wish);
    pthread_mutex_unlock(&shop->lock);
    return text;
}

struct worth_wish {
    const struct shop *shop;
    char *request;
    int32_t result;
};

static int32_t worth_text(void *user, char *buffer, size_t capacity, size_t *needed)
{
    struct worth_wish *wish = user;
    wish->result = cfoil_damaged_text(wish->shop->context, wish->request, buffer, capacity, needed);
    return wish->result;
}

/* Half of the last place that can be read off a ruler or a grid: 0.5 cm2. */
#define AREA_BOUND_MM2 50

static char *worth_request(const struct shop *shop, const cJSON *wish)
{
    cJSON *request = cJSON_CreateObject();
    const cJSON *area = cJSON_GetObjectItemCaseSensitive(wish, "area_cm2");
    cJSON_AddStringToObject(request, "schema", "counterfoil.damaged/1");
    cJSON_AddStringToObject(request, "currency", shop->currency);
    cJSON_AddItemToObject(request, "value_minor",
                          cJSON_Duplicate(cJSON_GetObjectItemCaseSensitive(wish, "value_minor"), 0));
    cJSON_AddStringToObject(request, "language", shop->language);
    cJSON_AddItemToObject(request, "conditions",
                          cJSON_Duplicate(cJSON_GetObjectItemCaseSensitive(wish, "conditions"), 1));
    if (cJSON_IsNumber(area)) {
        cJSON *piece = cJSON_CreateObject();
        cJSON_AddNumberToObject(piece, "area_mm2", area->valuedouble * 100);
        cJSON_AddNumberToObject(piece, "bound_mm2", AREA_BOUND_MM2);
        cJSON_AddItemToArray(cJSON_AddArrayToObject(request, "pieces"), piece);
    }
    char *text = cJSON_PrintUnformatted(request);
    cJSON_Delete(request);
    return text;
}

char *shop_worth(struct shop *shop, const cJSON *wish, char told[SHOP_TOLD_SIZE])
{
    pthread_mutex_lock(&shop->lock);
    struct worth_wish asked = {shop, worth_request(shop, wish), CFOIL_E_MEMORY};
    char *text = asked.request != NULL ? text_fetch(worth_text, &asked) : NULL;
    if (text == NULL)
        told_take(shop, shop->context, asked.result, told);
    pthread_mutex_unlock(&shop->lock);
    free(asked.request);
    return text;
}
