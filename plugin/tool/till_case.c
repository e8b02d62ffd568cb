/*
 * The dialogue about one doubtful note: checks, advice, disposition. Every line the cashier types is met with one
 * friendly line at least, and nothing here judges a person.
 */
#include "print.h"
#include "till_view.h"

#include <stdlib.h>
#include <string.h>

#define ANSWERS_MAX 16

/* A check that was answered, kept so that the cashier can go back to it. */
struct answered {
    char *check, *title, *instruction;
};

struct doubt {
    struct till *till;
    cfoil_case *handle;
    const char *currency;
    int64_t value_minor;
    struct answered answers[ANSWERS_MAX];
    int answer_count;
    bool show; /* the step was not shown yet */
    bool ended;
};

/* ---- Answers given so far ---- */

static void answered_free(struct answered *answered)
{
    free(answered->check);
    free(answered->title);
    free(answered->instruction);
    *answered = (struct answered){NULL, NULL, NULL};
}

/* Without memory only the way back is lost, not the answer. */
static void answer_remember(struct doubt *doubt, const cfoil_step *step)
{
    if (doubt->answer_count == ANSWERS_MAX)
        return;
    struct answered *answered = &doubt->answers[doubt->answer_count];
    *answered = (struct answered){strdup(step->check), strdup(step->title), strdup(step->instruction)};
    if (answered->check != NULL && answered->title != NULL && answered->instruction != NULL)
        doubt->answer_count++;
    else
        answered_free(answered);
}

static int32_t answer_of(const char *line)
{
    return line[0] >= '1' && line[0] <= '3' && line[1] == '\0' ? CFOIL_ANSWER_AS_IT_SHOULD_BE + (line[0] - '1') : 0;
}

static void answer_give(struct doubt *doubt, const char *check, int32_t answer)
{
    int32_t result = cfoil_case_answer(doubt->handle, check, answer);
    if (result != CFOIL_OK)
        failure_report(doubt->handle, result, "the answer was not taken");
    doubt->show = true;
}

/* Closed without a decision: the library records it as abandoned. */
static void input_ended(struct doubt *doubt)
{
    fputc('\n', doubt->till->talk);
    till_say(doubt->till, "till.closed");
    doubt->ended = true;
    doubt->till->finished = true;
}

/* ---- The machine while a question is open ---- */

static bool belongs_to_note(const struct doubt *doubt, const cfoil_event *event)
{
    bool presentation = event->kind == CFOIL_KIND_REJECTED || event->kind == CFOIL_KIND_HELD ||
                        event->kind == CFOIL_KIND_STACKED || event->kind == CFOIL_KIND_RETURNED;
    bool other_note = event->currency[0] != '\0' &&
                      (event->value_minor != doubt->value_minor || strcmp(event->currency, doubt->currency) != 0);
    return presentation && !other_note;
}

/* A note in the machine is taken to be the one of the case, unless its value is another. It cannot become money before the case has ended. True when
 * the case has changed. */
static bool machine_event_take(struct doubt *doubt)
{
    struct till *till = doubt->till;
    cfoil_event event = CFOIL_EVENT_INIT;
    if (cfoil_lane_poll(till->lane, &event) != CFOIL_OK)
        return false;
    till_event_show(till, &event);
    till_end_check(till, &event);
    if (event.kind == CFOIL_KIND_HELD && till->accept == CFOIL_ACCEPT_HOLD) {
        till_say(till, "till.machine.gives_back");
        held_note_return(till->lane, event.presentation);
    }
    if (!belongs_to_note(doubt, &event))
        return false;
    int32_t result = cfoil_case_presentation_add(doubt->handle, &event);
    if (result != CFOIL_OK)
        failure_report(doubt->handle, result, "the case did not take what the machine said");
    doubt->show = true;
    return true;
}

/* Asks until there is a line. False when the question is out of date: at the end, or as the machine saw the note. */
static bool line_ask(struct doubt *doubt, const char *question, char line[CONSOLE_LINE_MAX])
{
    for (;;) {
        enum reply reply = till_ask(doubt->till, question, true, line);
        if (reply == REPLY_LINE)
            return true;
        if (reply == REPLY_END) {
            input_ended(doubt);
            return false;
        }
        if (machine_event_take(doubt))
            return false;
    }
}

static bool key_is(const char *line, char key)
{
    return (line[0] == key || line[0] == key - 'a' + 'A') && line[1] == '\0';
}

/* ---- Keys that check and advice share ---- */

static void back_go(struct doubt *doubt)
{
    FILE *talk = doubt->till->talk;
    char line[CONSOLE_LINE_MAX];
    for (int place = doubt->answer_count - 1; place >= 0;) {
        const struct answered *answered = &doubt->answers[place];
        fputc('\n', talk);
        phrase_print_with(talk, &doubt->till->phrases, "till.back_to", "title", answered->title);
        line_view(doubt->till, "do", answered->instruction);
        if (!line_ask(doubt, "till.ask.check", line))
            return;
        int32_t answer = answer_of(line);
        if (answer != 0) {
            answer_give(doubt, answered->check, answer);
            return;
        }
        if (key_is(line, 'b'))
            place--;
        else
            till_say(doubt->till, "till.type.back");
    }
    till_say(doubt->till, "till.back_to.none");
    doubt->show = true;
}

static void serial_ask(struct doubt *doubt)
{
    char line[CONSOLE_LINE_MAX];
    if (!line_ask(doubt, "till.ask.serial", line))
        return;
    doubt->show = true;
    if (line[0] == '\0')
        return;
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    int32_t result = cfoil_case_serial_set(doubt->handle, line, &serial);
    if (result != CFOIL_OK) {
        failure_report(doubt->handle, result, "the serial number was not taken");
        return;
    }
    serial_view(doubt->till, &serial);
}

/* ---- Disposition ---- */

/* Takes the words for the override; false when the cashier gave none. */
static bool override_ask(struct doubt *doubt, char by[CONSOLE_LINE_MAX], char why[CONSOLE_LINE_MAX])
{
    till_say(doubt->till, "till.override");
    if (!line_ask(doubt, "till.ask.supervisor", by) || by[0] == '\0')
        return false;
    return line_ask(doubt, "till.ask.reason", why) && why[0] != '\0';
}

static int32_t override_dispose(struct doubt *doubt, cfoil_record *record)
{
    char by[CONSOLE_LINE_MAX], why[CONSOLE_LINE_MAX];
    if (!override_ask(doubt, by, why))
        return CFOIL_E_RULE_ADVICE;
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    options.disposition = CFOIL_DISPOSITION_TAKEN;
    options.override_by = by;
    options.override_why = why;
    return cfoil_case_dispose(doubt->handle, &options, record);
}

static void dispose(struct doubt *doubt, int32_t disposition)
{
    char envelope[CONSOLE_LINE_MAX] = "";
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    options.disposition = disposition;
    doubt->show = true;
    if (disposition == CFOIL_DISPOSITION_SET_ASIDE) {
        if (!line_ask(doubt, "till.ask.envelope", envelope))
            return;
        options.envelope = envelope;
    }
    cfoil_record record = CFOIL_RECORD_INIT;
    int32_t result = cfoil_case_dispose(doubt->handle, &options, &record);
    if (result == CFOIL_E_RULE_ADVICE) {
        result = override_dispose(doubt, &record);
        if (result == CFOIL_E_RULE_ADVICE)
            return;
    }
    if (result == CFOIL_E_RULE_DISPOSITION) {
        till_say(doubt->till, "till.not_offered");
        return;
    }
    if (result != CFOIL_OK) {
        failure_report(doubt->handle, result, "the case is not ended");
        if ((result & 0xff) == CFOIL_CLASS_LEDGER)
            doubt->till->code = TOOL_FAILED;
        return;
    }
    case_json_view(doubt->till, doubt->handle);
    record_view(doubt->till, &record);
    doubt->ended = true;
}

/* ---- Steps ---- */

static bool shared_key(struct doubt *doubt, const char *line)
{
    if (key_is(line, 'b'))
        back_go(doubt);
    else if (key_is(line, 's'))
        serial_ask(doubt);
    else if (key_is(line, 'n'))
        dispose(doubt, CFOIL_DISPOSITION_NOT_TAKEN);
    else if (key_is(line, 'q'))
        dispose(doubt, CFOIL_DISPOSITION_ABANDONED);
    else
        return false;
    return true;
}

static void check_make(struct doubt *doubt, const cfoil_step *step)
{
    if (doubt->show)
        check_view(doubt->till, step);
    doubt->show = false;
    char line[CONSOLE_LINE_MAX];
    if (!line_ask(doubt, "till.ask.check", line))
        return;
    int32_t answer = answer_of(line);
    if (answer != 0) {
        answer_remember(doubt, step);
        answer_give(doubt, step->check, answer);
    } else if (strcmp(line, "?") == 0) {
        help_view(doubt->till, step);
    } else if (!shared_key(doubt, line)) {
        till_say(doubt->till, "till.type.check");
    }
}

static void advice_follow(struct doubt *doubt, const cfoil_step *step)
{
    int32_t choices[CHOICES_MAX];
    int count = advice_view(doubt->till, step, choices);
    char line[CONSOLE_LINE_MAX];
    while (line_ask(doubt, "till.ask.choice", line)) {
        int choice = line[0] - '1';
        if (line[0] != '\0' && line[1] == '\0' && choice >= 0 && choice < count) {
            dispose(doubt, choices[choice]);
            return;
        }
        if (key_is(line, 't')) {
            dispose(doubt, CFOIL_DISPOSITION_TAKEN);
            return;
        }
        if (shared_key(doubt, line))
            return;
        if (strcmp(line, "?") == 0)
            help_view(doubt->till, step);
        else
            till_say(doubt->till, "till.type.choice");
    }
}

static void case_lead(struct doubt *doubt)
{
    while (!doubt->ended) {
        /* Before the step: its texts live only until the next call on the case. */
        if (doubt->show)
            case_json_view(doubt->till, doubt->handle);
        cfoil_step step = CFOIL_STEP_INIT;
        int32_t result = cfoil_case_step(doubt->handle, &step);
        if (result != CFOIL_OK) {
            doubt->till->code = failure_report(doubt->handle, result, "the case cannot go on");
            return;
        }
        if (step.kind == CFOIL_STEP_CHECK)
            check_make(doubt, &step);
        else
            advice_follow(doubt, &step);
    }
}

static cfoil_case_options case_options(const struct till *till, const char *currency, int64_t value_minor)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.tools = till->tools;
    options.ledger = till->host.ledger;
    options.currency = currency;
    options.value_minor = value_minor;
    options.series = till->arguments->values[OPTION_SERIES];
    options.jurisdiction = till->arguments->values[OPTION_JURISDICTION];
    options.lane = till->arguments->values[OPTION_LANE];
    options.sale = till->arguments->values[OPTION_SALE];
    options.staff = till->arguments->values[OPTION_STAFF];
    options.language = till->phrases.language;
    return options;
}

int till_case_try(const struct till *till)
{
    /* Money comes in ones, twos and fives: the first value that the pack has will do. */
    static const int64_t faces[] = {1, 2, 5};
    int32_t result = CFOIL_E_MISSING_NOTE;
    for (int64_t unit = 1; unit <= 10000000 && result == CFOIL_E_MISSING_NOTE; unit *= 10) {
        for (size_t i = 0; i < 3 && result == CFOIL_E_MISSING_NOTE; i++) {
            cfoil_case_options options = case_options(till, till->currency, faces[i] * unit);
            options.ledger = NULL;
            cfoil_case *trial;
            result = cfoil_case_open(till->host.context, &options, &trial);
            cfoil_case_close(trial);
        }
    }
    if (result == CFOIL_OK || (result == CFOIL_E_MISSING_NOTE && till->arguments->values[OPTION_SERIES] == NULL))
        return TOOL_OK;
    if (result == CFOIL_E_MISSING_JURISDICTION) {
        complain("there is no jurisdiction '%s'; 'counterfoil catalogue' lists them",
                 till->arguments->values[OPTION_JURISDICTION]);
        return TOOL_USAGE;
    }
    if (result == CFOIL_E_MISSING_LANGUAGE) {
        complain("there is no language '%s'; 'counterfoil catalogue' lists them", till->phrases.language);
        return TOOL_USAGE;
    }
    return failure_report(till->host.context, result, "cannot serve these notes");
}

/* From what is known to the end of the case. */
static void doubt_lead(struct doubt *doubt)
{
    case_lead(doubt);
    cfoil_case_close(doubt->handle);
    for (int i = 0; i < ANSWERS_MAX; i++)
        answered_free(&doubt->answers[i]);
    fflush(stdout);
}

void till_case_resume(struct till *till, const char *case_id, const char *currency, int64_t value_minor)
{
    struct doubt doubt = {.till = till, .currency = currency, .value_minor = value_minor, .show = true};
    char amount[PRINT_AMOUNT_SIZE];
    int32_t result = cfoil_case_resume(till->host.context, till->host.ledger, case_id, &doubt.handle);
    if (result != CFOIL_OK) {
        failure_report(till->host.context, result, "an open case cannot be taken up again");
        return;
    }
    fputc('\n', till->talk);
    phrase_print_with(till->talk, &till->phrases, "till.friendly", "amount",
                      amount_text(currency, value_minor, amount));
    doubt_lead(&doubt);
}

void till_case_run(struct till *till, const char *currency, int64_t value_minor, const cfoil_event *event)
{
    struct doubt doubt = {.till = till, .currency = currency, .value_minor = value_minor, .show = true};
    cfoil_case_options options = case_options(till, currency, value_minor);
    char amount[PRINT_AMOUNT_SIZE];
    int32_t result = cfoil_case_open(till->host.context, &options, &doubt.handle);
    if (result != CFOIL_OK) {
        failure_report(till->host.context, result, "there is no guidance for this note, in doubt do not take it");
        if (till->phrases.language != NULL)
            till_say(till, "till.no_guidance");
        return;
    }
    if (event != NULL)
        result = cfoil_case_presentation_add(doubt.handle, event);
    if (result != CFOIL_OK)
        failure_report(doubt.handle, result, "the case did not take what the machine said");
    fputc('\n', till->talk);
    phrase_print_with(till->talk, &till->phrases, "till.friendly", "amount",
                      amount_text(currency, value_minor, amount));
    doubt_lead(&doubt);
}
