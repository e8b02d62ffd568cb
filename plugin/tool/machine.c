/*
 * The lane as watch and till use it: opening it, showing its events, and what its end means.
 */
#include "machine.h"

#include "print.h"

int machine_open(const struct arguments *arguments, const struct host *host, int32_t accept, cfoil_lane **lane)
{
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.accept = accept;
    options.name = arguments->values[OPTION_LANE];
    options.adapter = arguments->values[OPTION_ADAPTER];
    options.port = arguments->values[OPTION_PORT];
    options.record_path = arguments->values[OPTION_RECORD];
    options.settings = arguments->values[OPTION_SETTINGS];
    options.ledger = host->ledger;
    int32_t result = cfoil_lane_open(host->context, &options, lane);
    if (result == CFOIL_OK)
        return TOOL_OK;
    if (result == CFOIL_E_MISSING_ADAPTER) {
        complain("there is no adapter '%s'; 'counterfoil catalogue' lists them", options.adapter);
        return TOOL_USAGE;
    }
    return failure_report(host->context, result, "cannot open the lane");
}

static const char *kind_word(int32_t kind)
{
    static const char *const words[] = {"event", "held", "stacked", "returned", "rejected", "device", "lost", "lane"};
    return kind > 0 && kind < (int32_t)(sizeof words / sizeof words[0]) ? words[kind] : words[0];
}

static void event_print_text(FILE *out, const cfoil_event *event)
{
    char when[PRINT_TIME_SIZE];
    char amount[PRINT_AMOUNT_SIZE] = "";
    if (event->currency[0] != '\0')
        amount_text(event->currency, event->value_minor, amount);
    fprintf(out, "%sZ %-8s %-10s %s", time_text(event->time_utc_ms, when) + 11, kind_word(event->kind), amount,
            event->text);
    if (event->raw_text[0] != '\0')
        fprintf(out, " [%s]", event->raw_text);
    fputc('\n', out);
}

bool event_print(FILE *out, bool json, const cfoil_event *event)
{
    if (json) {
        char line[4096];
        int32_t result = cfoil_event_json(event, line, sizeof line, NULL);
        if (result != CFOIL_OK) {
            failure_report(NULL, result, "cannot write an event as JSON");
            return false;
        }
        fprintf(out, "%s\n", line);
    } else {
        event_print_text(out, event);
    }
    return fflush(out) == 0;
}

void held_note_return(cfoil_lane *lane, uint64_t presentation)
{
    int32_t result = cfoil_note_return(lane, presentation);
    /* A replay repeats what was commanded then; a note that is gone already needs nothing. */
    if (result != CFOIL_OK && result != CFOIL_E_STATE_REPLAY && result != CFOIL_E_STATE_NO_NOTE)
        failure_report(lane, result, "the held note was not given back");
}

bool event_is_end(cfoil_lane *lane, const cfoil_event *event, int *code)
{
    if (event->kind != CFOIL_KIND_LANE_STATE || event->lane_state != CFOIL_LANE_ENDED)
        return false;
    *code = TOOL_OK;
    if (event->result != CFOIL_OK && event->result != CFOIL_E_PORT_ENDED) {
        failure_report(lane, event->result, "the lane has ended");
        *code = TOOL_FAILED;
    }
    return true;
}
