/*
 * The report as JSON (schema "counterfoil.report/1"). See report.h.
 */
#include "statistics/report.h"

#include "model/json.h"
#include "model/names.h"
#include "model/text.h"
#include "statistics/report_parts.h"
#include "statistics/statistics.h"

static bool count_add(cJSON *object, const char *key, uint64_t count)
{
    return json_integer_add(object, key, (int64_t)count);
}

/* null for a side of the period that is open */
static bool time_add(cJSON *object, const char *key, int64_t time_utc_ms)
{
    char text[TEXT_TIME_SIZE];
    text_time(time_utc_ms, text);
    return json_text_add(object, key, time_utc_ms != 0 ? text : NULL);
}

static bool money_list_add(cJSON *object, const char *key, const struct money *money)
{
    cJSON *list = json_array_add(object, key);
    bool good = list != NULL;
    for (; good && money != NULL; money = money->next) {
        cJSON *item = json_object_add(list, NULL);
        good = json_text_add(item, "currency", money->currency) &&
               json_integer_add(item, "value_minor", money->minor) && count_add(item, "notes", money->notes);
    }
    return good;
}

static bool presentations_add(cJSON *object, const struct figures *figures)
{
    cJSON *shown = json_object_add(object, "presentations");
    uint64_t rejected = figures_rejected(figures);
    bool good = count_add(shown, "put_in", figures_accepted(figures) + rejected) &&
                count_add(shown, "stacked", figures->stacked) && count_add(shown, "returned", figures->returned) &&
                count_add(shown, "held_open", figures->held_open) && count_add(shown, "rejected", rejected);
    cJSON *reasons = good ? json_object_add(shown, "rejected_by_reason") : NULL;
    good = reasons != NULL;
    for (int i = 0; good && i < REASON_PLACES; i++)
        good = count_add(reasons, i == CFOIL_REASON_NONE ? "not_told" : name_reason(i), figures->rejected[i]);
    return good;
}

static bool rate_add(cJSON *list, const struct rate *rate)
{
    cJSON *item = json_object_add(list, NULL);
    double lower;
    double upper;
    bool good = json_text_add(item, "name", rate->name) && count_add(item, "count", rate->count) &&
                count_add(item, "of", rate->of) && json_flag_add(item, "too_few", rate->of < TOO_FEW_BELOW);
    if (!interval_wilson(rate->count, rate->of, QUANTILE_975, &lower, &upper))
        return good && json_null_add(item, "rate") && json_null_add(item, "lower") && json_null_add(item, "upper");
    return good && json_number_add(item, "rate", (double)rate->count / (double)rate->of) &&
           json_number_add(item, "lower", lower) && json_number_add(item, "upper", upper);
}

static bool rates_add(cJSON *object, const struct figures *figures)
{
    struct rate rates[RATES];
    figures_rates(figures, rates);
    cJSON *list = json_array_add(object, "rates");
    bool good = list != NULL;
    for (int i = 0; good && i < RATES; i++)
        good = rate_add(list, &rates[i]);
    return good;
}

static bool device_add(cJSON *object, const struct figures *figures)
{
    cJSON *device = json_object_add(object, "device");
    cJSON *conditions = json_object_add(device, "conditions");
    bool good = conditions != NULL;
    for (int i = 0; good && i < CONDITION_PLACES; i++)
        good = figures->conditions[i] == 0 || count_add(conditions, name_condition(i), figures->conditions[i]);
    return good && count_add(device, "loss_reports", figures->losses) &&
           count_add(device, "loss_reports_without_number", figures->losses_uncounted) &&
           count_add(device, "events_lost", figures->events_lost) &&
           count_add(device, "connections_lost", figures->connections_lost);
}

static bool cases_add(cJSON *object, const struct figures *figures)
{
    cJSON *cases = json_object_add(object, "cases");
    cJSON *ended = NULL;
    bool good = count_add(cases, "count", cases_ended(figures, -1)) &&
                count_add(cases, "overrides", figures->overrides) &&
                money_list_add(cases, "money_set_aside", figures->money_set_aside) &&
                (ended = json_object_add(cases, "by_disposition")) != NULL;
    for (int i = CFOIL_DISPOSITION_TAKEN; good && i < DISPOSITION_PLACES; i++) {
        cJSON *shown = json_object_add(ended, name_disposition(i));
        good = count_add(shown, "count", cases_ended(figures, i));
        cJSON *advices = good ? json_object_add(shown, "by_advice") : NULL;
        good = advices != NULL;
        for (int advice = 0; good && advice < ADVICE_PLACES; advice++)
            good = figures->cases[i][advice] == 0 || count_add(advices, name_advice(advice), figures->cases[i][advice]);
    }
    return good;
}

static bool figures_add(cJSON *object, const struct figures *figures)
{
    return presentations_add(object, figures) && rates_add(object, figures) &&
           money_list_add(object, "money_stacked", figures->money_stacked) &&
           count_add(object, "stacked_without_value", figures->stacked_without_value) && device_add(object, figures) &&
           cases_add(object, figures);
}

static bool lanes_add(cJSON *object, const struct report *report)
{
    cJSON *lanes = json_array_add(object, "lanes");
    bool good = lanes != NULL;
    for (const struct lane_figures *lane = report->lanes; good && lane != NULL; lane = lane->next) {
        cJSON *item = json_object_add(lanes, NULL);
        good = json_text_add(item, "lane", lane->name) && figures_add(item, &lane->figures);
    }
    return good;
}

static bool notes_add(cJSON *object)
{
    cJSON *notes = json_array_add(object, "notes");
    bool good = notes != NULL;
    for (int i = 0; good && report_notes[i] != NULL; i++)
        good = json_text_add(notes, NULL, report_notes[i]);
    return good && json_text_add(object, "caution", report_caution);
}

char *report_json(const struct report *report)
{
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.report/1") &&
                json_text_add(object, "store", report->store) &&
                time_add(object, "from", report->options->from_utc_ms) &&
                time_add(object, "until", report->options->until_utc_ms) &&
                json_text_add(object, "lane", report->options->lane) && count_add(object, "entries", report->entries) &&
                json_integer_add(object, "first_entry", report->first_entry) &&
                json_integer_add(object, "last_entry", report->last_entry) &&
                time_add(object, "last_entry_time", report->last_time_utc_ms) &&
                count_add(object, "unreadable_entries", report->unreadable) &&
                json_number_add(object, "confidence", 0.95) &&
                json_integer_add(object, "too_few_below", TOO_FEW_BELOW) && report_signals_add(object, report);
    cJSON *total = good ? json_object_add(object, "total") : NULL;
    good = total != NULL && figures_add(total, &report->total) && lanes_add(object, report) &&
           report_figures_add(object, report) && notes_add(object);
    char *text = good ? json_line(object) : NULL;
    cJSON_Delete(object);
    return text;
}
