/*
 * The smallest useful host: serves one machine and, at the first refusal, leads one case to its record.
 *   example_host ADAPTER PORT LEDGER
 */
#include <counterfoil/counterfoil.h>
#include <stdio.h>

/* Asks nobody: a real host shows each step and takes the cashier's answer. */
static int32_t case_lead(cfoil_context *context, cfoil_ledger *ledger, const cfoil_event *event, cfoil_record *record)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.ledger = ledger;
    options.currency = event->currency[0] != '\0' ? event->currency : "EUR";
    options.value_minor = event->currency[0] != '\0' ? event->value_minor : 5000; /* else: ask the cashier */
    cfoil_case *doubt;
    int32_t result = cfoil_case_open(context, &options, &doubt);
    if (result == CFOIL_OK)
        result = cfoil_case_presentation_add(doubt, event);
    cfoil_step step = CFOIL_STEP_INIT;
    while (result == CFOIL_OK && (result = cfoil_case_step(doubt, &step)) == CFOIL_OK) {
        printf("%s: %s\n", step.title, step.instruction);
        if (step.kind == CFOIL_STEP_ADVICE)
            break;
        result = cfoil_case_answer(doubt, step.check, CFOIL_ANSWER_CANNOT_TELL);
    }
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    if (result == CFOIL_OK)
        result = cfoil_case_dispose(doubt, &end, record);
    cfoil_case_close(doubt);
    return result;
}

static int32_t refusal_wait(cfoil_lane *lane, cfoil_event *event)
{
    int32_t result;
    while ((result = cfoil_lane_wait(lane, 60000, event)) == CFOIL_OK) {
        printf("%s\n", event->text);
        if (event->kind == CFOIL_KIND_REJECTED)
            return CFOIL_OK;
        if (event->kind == CFOIL_KIND_LANE_STATE && event->lane_state == CFOIL_LANE_ENDED)
            return event->result != CFOIL_OK ? event->result : CFOIL_E_STATE_CLOSING;
    }
    return result;
}

int main(int argc, char **argv)
{
    if (argc != 4) {
        fprintf(stderr, "usage: example_host ADAPTER PORT LEDGER\n");
        return 2;
    }
    cfoil_context *context;
    cfoil_ledger *ledger = NULL;
    cfoil_lane *lane = NULL;
    cfoil_ledger_options store = CFOIL_LEDGER_OPTIONS_INIT;
    store.path = argv[3];
    int32_t result = cfoil_context_open(NULL, &context);
    if (result == CFOIL_OK)
        result = cfoil_ledger_open(context, &store, &ledger);
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.accept = CFOIL_ACCEPT_ALL;
    options.adapter = argv[1];
    options.port = argv[2];
    options.ledger = ledger;
    if (result == CFOIL_OK)
        result = cfoil_lane_open(context, &options, &lane);
    cfoil_event event = CFOIL_EVENT_INIT;
    if (result == CFOIL_OK)
        result = refusal_wait(lane, &event);
    cfoil_record record = CFOIL_RECORD_INIT;
    if (result == CFOIL_OK)
        result = case_lead(context, ledger, &event, &record);
    if (result == CFOIL_OK)
        printf("record %lld, case %s\n", (long long)record.entry, record.case_id);
    else
        fprintf(stderr, "%s\n", cfoil_error_text(result));
    cfoil_context_close(context); /* ends lane and ledger too */
    return result == CFOIL_OK ? 0 : 1;
}
