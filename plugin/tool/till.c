/*
 * counterfoil till: a cashier's session at the prompt, with or without a machine, for a person or a script.
 */
#include "till.h"

#include "commands.h"
#include "print.h"
#include "report.h"
#include "till_view.h"
#include "values.h"

#include <string.h>

#define FOUND_INDENT 4

/* ---- Asking ---- */

static bool session_over(const struct till *till)
{
    return stop_asked() || deadline_passed(till->deadline_ms);
}

void till_say(const struct till *till, const char *key)
{
    phrase_print(till->talk, &till->phrases, key);
}

enum reply till_ask(struct till *till, const char *question_key, bool machine, char line[CONSOLE_LINE_MAX])
{
    char question[PHRASE_MAX];
    fprintf(till->talk, "%s > ", phrase_make(&till->phrases, question_key, NULL, 0, question));
    fflush(till->talk);
    bool interrupt = machine && till->lane != NULL && till->console.terminal;
    for (;;) {
        if (console_line_take(&till->console, line)) {
            /* The transcript of a script reads like a session. */
            if (!till->console.terminal)
                fprintf(till->talk, "%s\n", line);
            return REPLY_LINE;
        }
        if (till->console.ended || session_over(till)) {
            fputc('\n', till->talk);
            return REPLY_END;
        }
        if (console_wait(&till->console, true, interrupt ? till->lane_handle : -1, slice_ms(till->deadline_ms))) {
            fputc('\n', till->talk);
            return REPLY_MACHINE;
        }
    }
}

/* ---- The machine ---- */

void till_event_show(struct till *till, const cfoil_event *event)
{
    if (till->json && !event_print(stdout, true, event))
        till->finished = true;
    event_view(till, event);
}

void till_end_check(struct till *till, const cfoil_event *event)
{
    int code;
    if (!event_is_end(till->lane, event, &code))
        return;
    till->finished = true;
    till->code = code != TOOL_OK ? code : till->code;
}

static void held_note_stack(struct till *till, uint64_t presentation)
{
    int32_t result = cfoil_note_stack(till->lane, presentation);
    /* A replay repeats what was commanded then; a note that is gone already cannot be sent. */
    if (result != CFOIL_OK && result != CFOIL_E_STATE_REPLAY && result != CFOIL_E_STATE_NO_NOTE)
        failure_report(till->lane, result, "the held note was not sent to the box");
}

static void count_down(struct till *till)
{
    if (till->count > 0 && --till->count == 0)
        till->finished = true;
}

static void value_explain(const struct till *till, const char *line, const char *otherwise_key)
{
    if (amount_grouped(line))
        phrase_print_with(till->talk, &till->phrases, "till.type.two_ways", "line", line);
    else
        till_say(till, otherwise_key);
}

/* The value that the machine did not tell; false when the cashier gives none. */
static bool value_ask(struct till *till, int64_t *value_minor)
{
    char line[CONSOLE_LINE_MAX];
    for (;;) {
        if (till_ask(till, "till.ask.which", false, line) == REPLY_END) {
            till->finished = true;
            return false;
        }
        if (amount_parse(line, till->currency, value_minor))
            return true;
        if (strcmp(line, "q") == 0 || strcmp(line, "Q") == 0)
            return false;
        value_explain(till, line, "till.type.value_printed");
    }
}

static void refused_note_check(struct till *till, const cfoil_event *event)
{
    const char *currency = event->currency;
    int64_t value_minor = event->value_minor;
    if (currency[0] == '\0' || value_minor <= 0) {
        currency = till->currency;
        if (!value_ask(till, &value_minor))
            return;
    }
    till_case_run(till, currency, value_minor, event);
}

static void refusal_follow(struct till *till, const cfoil_event *event)
{
    switch (event->reason) {
    case CFOIL_REASON_AUTHENTICITY:
    case CFOIL_REASON_NOT_RECOGNISED:
        refused_note_check(till, event);
        break;
    case CFOIL_REASON_HANDLING:
        till_say(till, "till.machine.handling");
        break;
    case CFOIL_REASON_NOT_ENABLED:
        till_say(till, "till.machine.not_enabled");
        break;
    case CFOIL_REASON_TAMPERING:
        till_say(till, "till.machine.tampering");
        break;
    default:
        till_say(till, "till.machine.other");
        break;
    }
    count_down(till);
}

static void event_follow(struct till *till, const cfoil_event *event)
{
    till_event_show(till, event);
    till_end_check(till, event);
    if (event->kind == CFOIL_KIND_HELD && till->accept == CFOIL_ACCEPT_HOLD)
        held_note_stack(till, event->presentation);
    else if (event->kind == CFOIL_KIND_REJECTED)
        refusal_follow(till, event);
}

static void machine_wait(struct till *till, uint32_t timeout_ms)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    int32_t result = cfoil_lane_wait(till->lane, timeout_ms, &event);
    if (result == CFOIL_OK) {
        event_follow(till, &event);
    } else if (result != CFOIL_E_TIME_OUT) {
        till->code = failure_report(till->lane, result, "cannot wait for the machine");
        till->finished = true;
    }
}

/* ---- The prompt ---- */

static void report_show(struct till *till)
{
    if (till->host.ledger == NULL) {
        till_say(till, "till.no_ledger");
        return;
    }
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    options.format = CFOIL_FORMAT_TEXT;
    report_print(till->talk, till->host.ledger, &options);
}

static void prompt_help(const struct till *till)
{
    fprintf(till->talk, "  50      ");
    phrase_print_with(till->talk, &till->phrases, "till.help.value", "currency", till->currency);
    if (till->lane != NULL) {
        fprintf(till->talk, "  ready   ");
        till_say(till, "till.help.ready");
    }
    fprintf(till->talk, "  found   ");
    till_say(till, "till.help.found");
    fprintf(till->talk, "  report  ");
    till_say(till, "till.help.report");
    fprintf(till->talk, "  quit    ");
    till_say(till, "till.help.quit");
}

/* What to do with a note in doubt that is among the money already. */
static void found_show(const struct till *till)
{
    const char *place = till->arguments->values[OPTION_JURISDICTION];
    char key[80];
    char text[PHRASE_MAX];
    snprintf(key, sizeof key, "jurisdiction.%s.found_later", place != NULL ? place : "common");
    phrase_print(till->talk, &till->phrases, "rules.found_later");
    print_wrapped(till->talk, "", FOUND_INDENT, phrase_make(&till->phrases, key, NULL, 0, text));
}

/* A lane stops taking notes by itself when the machine reports tampering, until its host says otherwise. */
static void machine_resume(struct till *till)
{
    int32_t result = cfoil_lane_accept(till->lane, till->accept);
    if (result != CFOIL_OK)
        failure_report(till->lane, result, "the machine was not told");
}

static void prompt_line_follow(struct till *till, const char *line)
{
    int64_t value_minor;
    if (line[0] == '\0')
        return;
    if (strcmp(line, "quit") == 0) {
        till->finished = true;
    } else if (strcmp(line, "help") == 0 || strcmp(line, "?") == 0) {
        prompt_help(till);
    } else if (strcmp(line, "found") == 0) {
        found_show(till);
    } else if (strcmp(line, "report") == 0) {
        report_show(till);
    } else if (strcmp(line, "ready") == 0 && till->lane != NULL) {
        machine_resume(till);
    } else if (amount_parse(line, till->currency, &value_minor)) {
        till_case_run(till, till->currency, value_minor, NULL);
        if (till->lane == NULL)
            count_down(till);
    } else {
        value_explain(till, line, "till.type.value");
    }
}

static void session_run(struct till *till)
{
    char line[CONSOLE_LINE_MAX];
    while (!till->finished && !session_over(till)) {
        if (till->lane != NULL && !till->console.terminal) {
            machine_wait(till, slice_ms(till->deadline_ms));
            continue;
        }
        enum reply reply = till_ask(till, "till.ask.value", true, line);
        if (reply == REPLY_LINE)
            prompt_line_follow(till, line);
        else if (reply == REPLY_MACHINE)
            machine_wait(till, 0);
        else
            till->finished = true;
    }
    till_say(till, "till.end");
}

/* ---- Opening ---- */

static int options_read(struct till *till, const struct arguments *arguments, int64_t *seconds)
{
    if ((arguments->values[OPTION_ADAPTER] == NULL) != (arguments->values[OPTION_PORT] == NULL)) {
        complain("--adapter and --port belong together; give both for a machine, none without");
        return TOOL_USAGE;
    }
    if (!arguments_accept(arguments, &till->accept) || !arguments_tools(arguments, &till->tools) ||
        !arguments_whole(arguments, OPTION_COUNT, 1, INT32_MAX, &till->count) ||
        !arguments_whole(arguments, OPTION_SECONDS, 1, INT32_MAX, seconds))
        return TOOL_USAGE;
    if (arguments->values[OPTION_RESUME] != NULL && arguments->values[OPTION_LEDGER] == NULL) {
        complain("--resume needs --ledger FILE; open cases are kept there");
        return TOOL_USAGE;
    }
    if (arguments->values[OPTION_CURRENCY] != NULL)
        till->currency = arguments->values[OPTION_CURRENCY];
    return TOOL_OK;
}

static int machine_start(struct till *till)
{
    if (till->arguments->values[OPTION_PORT] == NULL)
        return TOOL_OK;
    int code = machine_open(till->arguments, &till->host, till->accept, &till->lane);
    if (code != TOOL_OK)
        return code;
    int32_t result = cfoil_lane_wait_handle(till->lane, &till->lane_handle);
    return result == CFOIL_OK ? TOOL_OK : failure_report(till->lane, result, "cannot watch the machine");
}

int till_run(const struct arguments *arguments)
{
    struct till till = {.arguments = arguments, .accept = CFOIL_ACCEPT_HOLD, .count = -1, .currency = "EUR"};
    int64_t seconds = 0;
    int code = options_read(&till, arguments, &seconds);
    if (code == TOOL_OK)
        code = host_open(arguments, LEDGER_WRITE, &till.host);
    if (code != TOOL_OK)
        return code;
    stop_prepare();
    console_init(&till.console);
    till.json = arguments->values[OPTION_JSON] != NULL;
    till.talk = till.json ? stderr : stdout;
    till.phrases = (struct phrases){till.host.context, arguments->values[OPTION_LANGUAGE]};
    till.deadline_ms = seconds == 0 ? 0 : clock_ms() + (uint64_t)seconds * 1000u;
    code = till_case_try(&till);
    if (code == TOOL_OK)
        code = machine_start(&till);
    if (code == TOOL_OK) {
        if (till.phrases.language != NULL)
            till_say(&till, "language.review");
        if (arguments->values[OPTION_RESUME] != NULL)
            till_cases_resume(&till);
        session_run(&till);
        code = till.code;
    }
    cfoil_lane_close(till.lane);
    host_close(&till.host);
    return code;
}
