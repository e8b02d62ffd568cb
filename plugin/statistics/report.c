/*
 * The report of a period, read from the ledger. See statistics.h.
 */
#include "statistics/report.h"
#include "statistics/report_html.h"

#include "ledger/keep.h"
#include "model/error.h"
#include "model/text.h"
#include "statistics/statistics.h"

#include <string.h>

#define AREA   "report"
#define DAY_MS INT64_C(86400000)

const char *const report_notes[] = {
    "Each insertion of a note counts once; a note that is fed five times counts five times, so the true ranges are "
    "somewhat wider.",
    "Accepted: the machine found nothing wrong, and the note was held or stacked, whether it was then kept or given "
    "back.",
    "Refused for the note: a feature could not be confirmed, or the note was not recognised. Refused for feeding: "
    "folds, "
    "skew, jams and transport; they say nothing about the note.",
    "Rates leave out notes that the machine was told not to take, troubles of its own, and its alarms of tampering.",
    "Ranges are Wilson score intervals for 95 %.",
    NULL,
};

/* Share of counterfeits: European Central Bank, press release on 2024: 18 for each million genuine notes in
 * circulation. */
const char report_caution[] =
    "Nearly every note that a machine refuses at a till is a genuine note that is worn or was fed badly: in 2024 about "
    "18 counterfeits were found for each million genuine euro notes in circulation (European Central Bank). A refusal "
    "is no proof against a note or against the person who brings it.";

static int32_t store_read(struct report *report, struct ledger *ledger, cfoil_error_info *error)
{
    char *text;
    int32_t result = ledger_entry_text(ledger, 1, &text, error);
    if (result == CFOIL_E_MISSING_ENTRY)
        return CFOIL_OK; /* the report tells what is there; verifying tells what is not */
    if (result != CFOIL_OK)
        return result;
    cJSON *entry;
    result = ledger_body_parse(text, &entry);
    cJSON_free(text);
    if (result != CFOIL_OK)
        return error_memory_set(error, AREA);
    const cJSON *body = cJSON_GetObjectItemCaseSensitive(entry, "body");
    text_copy(report->store, sizeof report->store,
              cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(body, "store")));
    cJSON_Delete(entry);
    return CFOIL_OK;
}

/* ---- What is kept now ---- */

static int age_place(const char *since, int64_t now_utc_ms)
{
    for (int i = 0; i < CUSTODY_AGES - 1; i++) {
        char limit[TEXT_TIME_SIZE];
        text_time(now_utc_ms - custody_age_days[i] * DAY_MS, limit);
        if (strcmp(since, limit) >= 0) /* RFC 3339 in UTC: the order of the texts is that of the times */
            return i;
    }
    return CUSTODY_AGES - 1;
}

/* Aged by the newest entry: the ledger's own clock. */
static int32_t custody_read(struct report *report, struct ledger *ledger, cfoil_error_info *error)
{
    cJSON *list;
    int32_t result = keep_list(ledger, CFOIL_LIST_CUSTODY, "held", &list, error);
    if (result != CFOIL_OK)
        return result;
    const cJSON *item;
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(list, "items"))
    {
        const char *since = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(item, "since"));
        since = since != NULL ? since : "";
        if (report->custody.held++ == 0)
            text_copy(report->custody.oldest_since, sizeof report->custody.oldest_since, since);
        report->custody.aged[age_place(since, report->last_time_utc_ms)]++;
    }
    cJSON_Delete(list);
    return CFOIL_OK;
}

static int32_t store_check(const struct report *report, cfoil_error_info *error)
{
    const char *wanted = report->options->store;
    if (wanted == NULL || strcmp(wanted, report->store) == 0)
        return CFOIL_OK;
    return error_set(error, CFOIL_E_MISSING_ENTRY, 0, AREA, "This ledger is of the store \"%.64s\", not of \"%.64s\".",
                     report->store, wanted);
}

static char *report_write(const struct report *report)
{
    switch (report->options->format) {
    case CFOIL_FORMAT_TEXT:
        return report_plain(report);
    case CFOIL_FORMAT_CSV:
        return report_csv(report);
    case CFOIL_FORMAT_HTML:
        return report_html(report);
    default:
        return report_json(report);
    }
}

int32_t report_text(struct ledger *ledger, const cfoil_report_options *options, char **text, cfoil_error_info *error)
{
    struct report report = {.memory = ledger_memory(ledger), .options = options};
    *text = NULL;
    int32_t result = store_read(&report, ledger, error);
    if (result == CFOIL_OK)
        result = store_check(&report, error);
    if (result == CFOIL_OK)
        result = ledger_walk(ledger, options->from_utc_ms, options->until_utc_ms, report_entry_count, &report, error);
    report.cells.memory = report.signals.memory = report.memory;
    if (result == CFOIL_OK && (report.memory_failed || !signals_find(&report.cells, &report.signals)))
        result = error_memory_set(error, AREA);
    if (result == CFOIL_OK)
        result = custody_read(&report, ledger, error);
    if (result == CFOIL_OK) {
        *text = report_write(&report);
        if (*text == NULL)
            result = error_memory_set(error, AREA);
    }
    report_free(&report);
    return result;
}
