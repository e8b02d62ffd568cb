/*
 * The report as plain text for a manager, at most 80 columns. See report.h.
 */
#include "statistics/report.h"

#include "ledger/custody.h"
#include "model/names.h"
#include "model/text.h"
#include "statistics/page.h"
#include "statistics/report_parts.h"
#include "statistics/shown.h"
#include "statistics/statistics.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* ---- Small parts ---- */

static const char *notes_word(uint64_t count)
{
    return count == 1 ? "note" : "notes";
}

static void section_begin(struct page *page, const char *title)
{
    page_line(page, "\n%s", title);
}

static void count_line(struct page *page, int indent, const char *text, uint64_t count)
{
    page_line(page, "%*s%-*s %8" PRIu64, indent, "", 46 - indent, text, count);
}

/* A line that would only say 'none' is left out. */
static void count_line_if(struct page *page, int indent, const char *text, uint64_t count)
{
    if (count > 0)
        count_line(page, indent, text, count);
}

static void money_lines(struct page *page, const struct money *money)
{
    char text[AMOUNT_SIZE];
    for (; money != NULL; money = money->next)
        page_line(page, "  %-40s in %" PRIu64 " %s", amount_shown(money, text), money->notes, notes_word(money->notes));
}

/* ---- Sections ---- */

static void time_shown(int64_t time_utc_ms, const char *open, char text[TEXT_TIME_SIZE])
{
    text_time(time_utc_ms, text);
    if (time_utc_ms == 0 || text[0] == '\0')
        text_copy(text, TEXT_TIME_SIZE, open);
}

static void heading(struct page *page, const struct report *report)
{
    char from[TEXT_TIME_SIZE];
    char until[TEXT_TIME_SIZE];
    char newest[TEXT_TIME_SIZE];
    time_shown(report->options->from_utc_ms, "the beginning", from);
    time_shown(report->options->until_utc_ms, "now", until);
    time_shown(report->last_time_utc_ms, "an unknown time", newest);
    page_line(page, "NOTE VALIDATOR REPORT");
    page_line(page, "Store    %s", name_shown(report->store, "(no name)"));
    page_line(page, "Period   from %s until %s", from, until);
    page_line(page, "Lane     %s", report->options->lane != NULL ? name_shown(report->options->lane, "") : "all");
    if (report->entries == 0)
        page_line(page, "Records  none in this period");
    else
        page_line(page, "Records  %" PRId64 " to %" PRId64 ", the newest of %s", report->first_entry,
                  report->last_entry, newest);
    if (report->unreadable > 0)
        page_line(page, "CAUTION  %" PRIu64 " records cannot be read and are not counted: verify the ledger",
                  report->unreadable);
}

static void presentations_section(struct page *page, const struct figures *figures)
{
    static const char *const reasons[REASON_PLACES] = {
        "reason not told",
        "a feature could not be confirmed",
        "note not recognised",
        "feeding, jams and transport",
        "machine was told not to take it",
        "trouble of the machine itself",
        "machine raised an alarm of tampering",
        "another reason",
    };
    uint64_t rejected = figures_rejected(figures);
    section_begin(page, "NOTES PUT INTO THE MACHINE");
    count_line(page, 2, "put in", figures_accepted(figures) + rejected);
    count_line(page, 2, "stacked", figures->stacked);
    count_line(page, 2, "held, then given back", figures->returned);
    count_line_if(page, 2, "held, no outcome on record", figures->held_open);
    count_line(page, 2, "not accepted", rejected);
    for (int i = 1; i <= REASON_PLACES; i++)
        count_line_if(page, 4, reasons[i % REASON_PLACES], figures->rejected[i % REASON_PLACES]);
}

static void rate_line(struct page *page, const struct rate *rate)
{
    char share[SHARE_SIZE];
    char low[SHARE_SIZE];
    char high[SHARE_SIZE];
    double lower;
    double upper;
    if (!interval_wilson(rate->count, rate->of, QUANTILE_975, &lower, &upper)) {
        page_line(page, "  %-20s  no notes", rate->text);
        return;
    }
    page_line(page, "  %-20s %8s  (%s to %s)  %" PRIu64 " of %" PRIu64, rate->text,
              share_shown((double)rate->count / (double)rate->of, share), share_shown(lower, low),
              share_shown(upper, high), rate->count, rate->of);
}

static void rates_section(struct page *page, const struct figures *figures)
{
    struct rate rates[RATES];
    figures_rates(figures, rates);
    section_begin(page, "RATES, with the range that the true rate is likely in (95 %)");
    for (int i = 0; i < RATES; i++)
        rate_line(page, &rates[i]);
    if (rates[0].of < TOO_FEW_BELOW)
        page_line(page, "  Too few notes to judge by: wait until there are %d or more.", TOO_FEW_BELOW);
}

static void money_section(struct page *page, const struct figures *figures)
{
    section_begin(page, "MONEY STACKED");
    if (figures->stacked == 0)
        page_line(page, "  none");
    money_lines(page, figures->money_stacked);
    if (figures->stacked_without_value > 0)
        page_line(page, "  %" PRIu64 " %s of unknown value: count the cash box by hand", figures->stacked_without_value,
                  notes_word(figures->stacked_without_value));
}

static void disposition_lines(struct page *page, const struct figures *figures, int32_t disposition, const char *text)
{
    char word[WORD_SIZE];
    char line[WORD_SIZE + 16];
    count_line(page, 2, text, cases_ended(figures, disposition));
    for (int advice = 0; advice < ADVICE_PLACES; advice++) {
        (void)snprintf(line, sizeof line, "advice was: %s", word_shown(name_advice(advice), word));
        count_line_if(page, 4, line, figures->cases[disposition][advice]);
    }
}

static void cases_section(struct page *page, const struct figures *figures)
{
    section_begin(page, "DOUBTFUL NOTES HANDLED BY HAND");
    count_line(page, 2, "cases", cases_ended(figures, -1));
    if (cases_ended(figures, -1) == 0)
        return;
    disposition_lines(page, figures, CFOIL_DISPOSITION_TAKEN, "taken as payment");
    disposition_lines(page, figures, CFOIL_DISPOSITION_NOT_TAKEN, "not taken, left with the customer");
    disposition_lines(page, figures, CFOIL_DISPOSITION_SET_ASIDE, "set aside");
    disposition_lines(page, figures, CFOIL_DISPOSITION_ABANDONED, "ended without a decision");
    count_line_if(page, 2, "ended in another way", cases_ended(figures, DISPOSITION_PLACES - 1));
    count_line_if(page, 2, "taken against the advice, by a named person", figures->overrides);
    if (figures->money_set_aside != NULL)
        page_line(page, "  Set aside, not part of the takings:");
    money_lines(page, figures->money_set_aside);
}

static void machine_section(struct page *page, const struct figures *figures)
{
    char word[WORD_SIZE];
    bool any = figures->losses > 0 || figures->connections_lost > 0;
    section_begin(page, "THE MACHINE");
    for (int i = 0; i < CONDITION_PLACES; i++) {
        any = any || figures->conditions[i] > 0;
        count_line_if(page, 2, word_shown(name_condition(i), word), figures->conditions[i]);
    }
    count_line_if(page, 2, "connection lost", figures->connections_lost);
    count_line_if(page, 2, "reports of lost events", figures->losses);
    count_line_if(page, 4, "events lost", figures->events_lost);
    count_line_if(page, 4, "reports without a number", figures->losses_uncounted);
    if (figures->losses > 0)
        page_line(page, "  Events were lost: compare the cash box with the takings by hand.");
    if (!any)
        page_line(page, "  nothing to report");
}

static void lane_lines(struct page *page, const struct lane_figures *lane)
{
    const struct figures *figures = &lane->figures;
    uint64_t feeding = figures->rejected[CFOIL_REASON_HANDLING];
    struct rate rates[RATES];
    figures_rates(figures, rates);
    page_line(page, "  %s", name_shown(lane->name, "(no lane named)"));
    page_line(page, "    put in %" PRIu64 ", not accepted %" PRIu64 ", of these feeding %" PRIu64 "; cases %" PRIu64,
              figures_accepted(figures) + figures_rejected(figures), figures_rejected(figures), feeding,
              cases_ended(figures, -1));
    rate_line(page, &rates[0]);
    if (rates[0].of > 0 && rates[0].of < TOO_FEW_BELOW)
        page_line(page, "    too few notes");
}

static void lanes_section(struct page *page, const struct report *report)
{
    if (report->lanes == NULL || report->lanes->next == NULL)
        return;
    section_begin(page, "LANES");
    for (const struct lane_figures *lane = report->lanes; lane != NULL; lane = lane->next)
        lane_lines(page, lane);
}

static void signals_section(struct page *page, const struct report *report)
{
    char text[SENTENCE_SIZE];
    section_begin(page, "AT A GLANCE");
    verdict_text(report, text);
    page_paragraph(page, 2, text);
    for (uint32_t i = 0; i < report->signals.count; i++) {
        const struct signal *signal = &report->signals.list[i];
        char numbered[SENTENCE_SIZE + 16];
        signal_title(report, signal, text);
        (void)snprintf(numbered, sizeof numbered, "%" PRIu32 ". %s", i + 1, text);
        page_line(page, "%s", "");
        page_paragraph(page, 2, numbered);
        page_paragraph(page, 5, signal_words[signal->kind].what);
        signal_evidence(signal, text);
        page_paragraph(page, 5, text);
        (void)snprintf(text, sizeof text, "Next: %.480s", signal_words[signal->kind].next);
        page_paragraph(page, 5, text);
    }
}

static void share_line(struct page *page, const char *text, const struct share *share)
{
    struct rate rate = {.text = text, .count = share->count, .of = share->of};
    rate_line(page, &rate);
}

/* One for each note, as far as can be told. */
static void notes_section(struct page *page, const struct report *report)
{
    struct cell_sums sums = {{0}, {0}, {0}};
    for (uint32_t i = 0; i < report->cells.count; i++)
        cell_sums_add(&sums, &report->cells.cells[i]);
    struct shares shares = shares_of(&sums);
    section_begin(page, "NOTES, each counted once however often it was fed");
    share_line(page, "accepted at once", &shares.first_pass);
    share_line(page, "accepted in the end", &shares.final);
    share_line(page, "first refused", &shares.refused);
    share_line(page, "first fed badly", &shares.feeding);
}

static void meaning_section(struct page *page, const struct report *report)
{
    bool begun = false;
    for (const struct money *money = report->total.money_stacked; money != NULL; money = money->next) {
        struct prediction prediction;
        char text[SENTENCE_SIZE];
        if (!prediction_make(report, money->currency, &prediction))
            continue;
        if (!begun)
            section_begin(page, "WHAT A REFUSAL MEANS");
        begun = true;
        prediction_text(&prediction, text);
        page_paragraph(page, 2, text);
    }
}

static void custody_section(struct page *page, const struct report *report)
{
    const struct custody_figures *custody = &report->custody;
    if (custody->held == 0 && custody->steps[CUSTODY_HANDED_OVER] == 0)
        return;
    section_begin(page, "KEPT NOTES");
    count_line(page, 2, "in the shop now", custody->held);
    count_line_if(page, 4, "of these for longer than 30 days", custody->aged[CUSTODY_AGES - 1]);
    if (custody->held > 0)
        page_line(page, "    the oldest where it is since %.10s", custody->oldest_since);
    count_line_if(page, 2, "handed over in the period", custody->steps[CUSTODY_HANDED_OVER]);
    count_line_if(page, 2, "came back as genuine", custody->steps[CUSTODY_GENUINE]);
    count_line_if(page, 2, "not genuine, says the authority", custody->steps[CUSTODY_NOT_GENUINE]);
}

char *report_plain(const struct report *report)
{
    struct page page = {{.memory = report->memory}};
    heading(&page, report);
    signals_section(&page, report);
    notes_section(&page, report);
    presentations_section(&page, &report->total);
    rates_section(&page, &report->total);
    money_section(&page, &report->total);
    cases_section(&page, &report->total);
    custody_section(&page, report);
    machine_section(&page, &report->total);
    lanes_section(&page, report);
    meaning_section(&page, report);
    section_begin(&page, "CAUTION");
    page_paragraph(&page, 2, report_caution);
    section_begin(&page, "WHAT THE WORDS MEAN");
    for (int i = 0; report_notes[i] != NULL; i++)
        page_paragraph(&page, 2, report_notes[i]);
    return page_take(&page);
}
