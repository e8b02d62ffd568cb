/*
 * The smallest useful host: serves one machine and, at the first refusal, leads one case to its record.
 *   example_host ADAPTER PORT LEDGER
 */
#include <counterfoil/counterfoil.h>
#include <stdio.h>
#include <stdlib.h>

static void need(int32_t result)
{
    if (result == CFOIL_OK)
        return;
    fprintf(stderr, "%s\n", cfoil_error_text(result));
    exit(1);
}

/* A real host shows each step and takes the cashier's answer; this one can never tell, and so takes nothing. */
static void case_lead(cfoil_context *context, cfoil_ledger *ledger, const cfoil_event *event)
{
    int known = event->currency[0] != '\0'; /* else a real host asks which note it is */
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.ledger = ledger;
    options.currency = known ? event->currency : "EUR";
    options.value_minor = known ? event->value_minor : 5000;
    cfoil_case *doubt;
    need(cfoil_case_open(context, &options, &doubt));
    need(cfoil_case_presentation_add(doubt, event));
    cfoil_step step = CFOIL_STEP_INIT;
    need(cfoil_case_step(doubt, &step));
    for (; step.kind == CFOIL_STEP_CHECK; need(cfoil_case_step(doubt, &step))) {
        printf("%s: %s\n", step.title, step.instruction);
        need(cfoil_case_answer(doubt, step.check, CFOIL_ANSWER_CANNOT_TELL));
    }
    printf("%s: %s\n", step.title, step.instruction);
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    cfoil_record record = CFOIL_RECORD_INIT;
    need(cfoil_case_dispose(doubt, &end, &record));
    printf("record %lld, case %s\n", (long long)record.entry, record.case_id);
}

int main(int argc, char **argv)
{
    if (argc != 4) {
        fprintf(stderr, "usage: example_host ADAPTER PORT LEDGER\n");
        return 2;
    }
    cfoil_context *context;
    need(cfoil_context_open(NULL, &context));
    cfoil_ledger_options store = CFOIL_LEDGER_OPTIONS_INIT;
    store.path = argv[3];
    cfoil_ledger *ledger;
    need(cfoil_ledger_open(context, &store, &ledger));
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.accept = CFOIL_ACCEPT_ALL;
    options.adapter = argv[1];
    options.port = argv[2];
    options.ledger = ledger;
    cfoil_lane *lane;
    need(cfoil_lane_open(context, &options, &lane));
    cfoil_event event = CFOIL_EVENT_INIT;
    do {
        need(cfoil_lane_wait(lane, 60000, &event));
        printf("%s\n", event.text);
        if (event.lane_state == CFOIL_LANE_ENDED)
            need(event.result);
    } while (event.kind != CFOIL_KIND_REJECTED && event.lane_state != CFOIL_LANE_ENDED);
    if (event.kind == CFOIL_KIND_REJECTED)
        case_lead(context, ledger, &event);
    cfoil_context_close(context); /* ends case, lane and ledger too */
    return 0;
}
