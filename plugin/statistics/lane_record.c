/*
 * How a machine has been doing. See lane_record.h.
 */
#include "statistics/lane_record.h"

#include "ledger/ledger.h"
#include "model/error.h"
#include "model/names.h"

#include <string.h>

struct count {
    const char *lane;
    struct lane_record record;
    double held;  /* number of the presentation that was held last; 0 = none */
    bool refused; /* the last trial was a refusal */
    bool memory_failed;
};

static const char *text_of(const cJSON *body, const char *key)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(body, key);
    return cJSON_IsString(item) ? item->valuestring : "";
}

/* Does this reason of a refusal speak of the note? No reason at all may. */
static bool about_the_note(const char *reason)
{
    return reason[0] == '\0' || strcmp(reason, name_reason(CFOIL_REASON_AUTHENTICITY)) == 0 ||
           strcmp(reason, name_reason(CFOIL_REASON_NOT_RECOGNISED)) == 0;
}

static void refusal_count(struct count *count, const cJSON *body)
{
    if (!about_the_note(text_of(body, "reason")) || count->refused)
        return;
    count->record.presentations++;
    count->record.refusals++;
    count->refused = true;
}

/* Held, and then stacked or returned: one note. */
static void acceptance_count(struct count *count, const char *kind, double presentation)
{
    bool held = strcmp(kind, name_kind(CFOIL_KIND_HELD)) == 0;
    bool same = !held && presentation > 0 && presentation == count->held;
    count->record.presentations += same ? 0 : 1;
    count->held = held ? presentation : 0;
    count->refused = false;
}

static void presentation_count(struct count *count, const cJSON *body)
{
    const char *kind = text_of(body, "kind");
    const cJSON *presentation = cJSON_GetObjectItemCaseSensitive(body, "presentation");
    /* What was imported is another machine's, whatever its lane is called. */
    if (strcmp(text_of(body, "lane"), count->lane) != 0 || cJSON_GetObjectItemCaseSensitive(body, "origin") != NULL)
        return;
    if (strcmp(kind, name_kind(CFOIL_KIND_REJECTED)) == 0)
        refusal_count(count, body);
    else
        acceptance_count(count, kind, cJSON_IsNumber(presentation) ? presentation->valuedouble : 0);
}

static bool entry_count(void *user, int64_t number, const char *kind, int64_t time_utc_ms, const char *body)
{
    (void)number;
    (void)time_utc_ms;
    struct count *count = user;
    if (strcmp(kind, LEDGER_KIND_PRESENTATION) != 0)
        return true;
    cJSON *parsed;
    count->memory_failed = ledger_body_parse(body, &parsed) != CFOIL_OK;
    if (parsed != NULL)
        presentation_count(count, parsed);
    cJSON_Delete(parsed);
    return !count->memory_failed;
}

int32_t lane_record_count(struct ledger *ledger, const char *lane, struct lane_record *record, cfoil_error_info *error)
{
    struct count count = {.lane = lane};
    int32_t result = ledger_walk_newest(ledger, LANE_RECORD_ENTRIES, entry_count, &count, error);
    if (result == CFOIL_OK && count.memory_failed)
        result = error_memory_set(error, "statistics");
    *record = result == CFOIL_OK ? count.record : (struct lane_record){0};
    return result;
}
