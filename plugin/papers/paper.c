/*
 * The four papers. See paper.h and docs/papers.md.
 */
#include "papers/paper.h"

#include "ledger/keep.h"
#include "model/error.h"
#include "model/text.h"
#include "packs/message_format.h"
#include "packs/phrase.h"
#include "papers/note.h"
#include "papers/sheet.h"

#include <stdio.h>
#include <string.h>

#define AREA "paper"

struct paper {
    const cfoil_paper_options *options;
    const struct pack_jurisdiction *place;
    const cJSON *notes;
    const cJSON *note; /* the first one, NULL = none */
    const char *store; /* as the ledger knows it */
    int64_t now_utc_ms;
    struct sheet sheet;
};

/* ---- Parts of several papers ---- */

static void heading_say(struct paper *paper, const char *title_key, bool slip)
{
    sheet_begin(&paper->sheet, title_key, slip);
    sheet_text(&paper->sheet, paper->options->shop != NULL ? paper->options->shop : paper->store);
}

static void rule_say(struct paper *paper, const char *english)
{
    if (english[0] != '\0')
        sheet_text(&paper->sheet, pack_text(paper->sheet.packs, paper->sheet.language, english));
}

/* A rule of the place with the words that introduce it, "By when:". */
static void rule_named_say(struct paper *paper, const char *label_key, const char *english)
{
    struct growing line = {.memory = paper->sheet.growing.memory};
    if (english[0] == '\0')
        return;
    phrase_add(&line, phrase_of_key(paper->sheet.packs, paper->sheet.language, label_key), NULL, 0);
    phrase_add(&line, pack_phrase_of_text(paper->sheet.packs, paper->sheet.language, english), NULL, 0);
    sheet_text(&paper->sheet, growing_text(&line));
    paper->sheet.growing.failed = paper->sheet.growing.failed || line.failed;
    growing_release(&line);
}

static void printed_say(struct paper *paper)
{
    char time[NOTE_TIME_SIZE];
    note_time_write(paper->now_utc_ms, paper->options->utc_offset_minutes, time);
    sheet_field(&paper->sheet, "paper.made", time);
}

static void end_say(struct paper *paper)
{
    sheet_message(&paper->sheet, "paper.law");
    printed_say(paper);
    sheet_end(&paper->sheet);
}

static bool state_is(const struct paper *paper, const char *state)
{
    return strcmp(note_text(paper->note, "state"), state) == 0;
}

/* ---- Receipt for the customer ---- */

static const char *receipt_key(const struct paper *paper)
{
    if (state_is(paper, "with_customer"))
        return "paper.receipt.not_taken";
    return state_is(paper, "given_back") ? "paper.receipt.given_back" : "paper.receipt.kept";
}

/* A note that was found in the till came from nobody; one that was taken is no matter of a receipt. */
static int32_t receipt_check(const struct paper *paper, cfoil_error_info *error)
{
    const char *ended = note_text(paper->note, "disposition");
    if (strcmp(ended, "not_taken") == 0 || strcmp(ended, "set_aside") == 0)
        return CFOIL_OK;
    return error_set(error, CFOIL_E_RULE_CUSTODY, 0, AREA,
                     "A receipt is for a note that a customer offered and that was refused: this one was not.");
}

static void receipt_write(struct paper *paper)
{
    struct sheet *sheet = &paper->sheet;
    heading_say(paper, "paper.receipt.title", true);
    sheet_field(sheet, "paper.case", note_text(paper->note, "case_id"));
    note_what_say(sheet, paper->note);
    note_where_say(sheet, paper->note, paper->options->utc_offset_minutes);
    note_envelope_say(sheet, paper->note);
    sheet_message(sheet, receipt_key(paper));
    note_hand_over_say(sheet, paper->note, paper->options->utc_offset_minutes);
    sheet_message(sheet, "paper.receipt.nobody");
    sheet_message(sheet, "paper.no_finding");
    sheet_remark(sheet, "paper.receipt.ask", pack_text(sheet->packs, sheet->language, paper->place->customer.text));
    sheet_blank(sheet, "paper.sign.shop");
    end_say(paper);
}

/* ---- Label of an envelope ---- */

static int32_t label_check(const struct paper *paper, cfoil_error_info *error)
{
    if (state_is(paper, "set_aside") || state_is(paper, "found") || state_is(paper, "sealed"))
        return CFOIL_OK;
    return error_set(error, CFOIL_E_RULE_CUSTODY, 0, AREA,
                     "A label is for a note that is in the shop's hands: this one is not.");
}

static void label_write(struct paper *paper)
{
    struct sheet *sheet = &paper->sheet;
    heading_say(paper, "paper.label.title", true);
    if (note_text(paper->note, "envelope")[0] != '\0')
        note_envelope_say(sheet, paper->note);
    else
        sheet_blank(sheet, "paper.envelope");
    note_what_say(sheet, paper->note);
    sheet_field(sheet, "paper.case", note_text(paper->note, "case_id"));
    note_where_say(sheet, paper->note, paper->options->utc_offset_minutes);
    sheet_field(sheet, "paper.place", note_text(paper->note, "place"));
    rule_say(paper, paper->place->never.text);
    sheet_message(sheet, "paper.no_finding");
    sheet_message(sheet, "paper.no_names");
    sheet_blank(sheet, "paper.sign.sealed");
    sheet_blank(sheet, "paper.sign.second");
    end_say(paper);
}

/* ---- Sums ---- */

static bool counts(const cJSON *note, bool left)
{
    return (strcmp(note_text(note, "state"), "with_customer") == 0) == left;
}

/* Is this the first note of the list that has its currency, and its value when `values`? */
static bool is_first(const struct paper *paper, const cJSON *note, bool left, bool values)
{
    const cJSON *other;
    cJSON_ArrayForEach(other, paper->notes)
    {
        if (other == note)
            return true;
        bool same = strcmp(note_text(other, "currency"), note_text(note, "currency")) == 0;
        if (values)
            same = same && note_number(other, "value_minor") == note_number(note, "value_minor");
        if (same && counts(other, left))
            return false;
    }
    return true;
}

/* "EUR 50: 3 notes" of one value, or of all of its currency. */
static void sum_say(struct paper *paper, const char *key, const cJSON *note, bool left, bool values)
{
    int64_t count = 0;
    int64_t sum_minor = 0;
    const cJSON *other;
    cJSON_ArrayForEach(other, paper->notes)
    {
        bool same = strcmp(note_text(other, "currency"), note_text(note, "currency")) == 0;
        if (values)
            same = same && note_number(other, "value_minor") == note_number(note, "value_minor");
        if (!same || !counts(other, left))
            continue;
        count++;
        sum_minor += note_number(other, "value_minor");
    }
    char value[NOTE_VALUE_SIZE];
    char line[160];
    (void)note_value_write(paper->sheet.packs, note_text(note, "currency"),
                           values ? note_number(note, "value_minor") : sum_minor, value);
    const cfoil_argument arguments[] = {{"title", value, 0}, {"number", NULL, count}};
    struct pack_phrase phrase = phrase_of_key(paper->sheet.packs, paper->sheet.language, "paper.pieces");
    (void)message_format(phrase.language, phrase.pattern, arguments, 2, line, sizeof line);
    sheet_field(&paper->sheet, key, line);
}

/* A line for each currency, or for each value of each; `left`: of the notes that stayed with customers. */
static void sums_say(struct paper *paper, const char *key, bool left, bool values)
{
    const cJSON *note;
    cJSON_ArrayForEach(note, paper->notes)
    {
        if (counts(note, left) && is_first(paper, note, left, values))
            sum_say(paper, key, note, left, values);
    }
}

static int kept_count(const struct paper *paper)
{
    int count = 0;
    const cJSON *note;
    cJSON_ArrayForEach(note, paper->notes)
    {
        count += counts(note, false);
    }
    return count;
}

/* ---- Hand-over list ---- */

/* A list over all notes holds only such notes by itself. */
static int32_t hand_over_check(const struct paper *paper, cfoil_error_info *error)
{
    static const char *const states[] = {"set_aside", "found", "sealed", "handed_over", "genuine", "not_genuine"};
    bool fits = paper->options->case_id == NULL;
    for (size_t i = 0; !fits && i < sizeof states / sizeof states[0]; i++)
        fits = state_is(paper, states[i]);
    return fits ? CFOIL_OK
                : error_set(error, CFOIL_E_RULE_CUSTODY, 0, AREA,
                            "A hand-over list is for a note that the shop keeps or has handed over: this one is not.");
}

static void hand_over_note_say(struct paper *paper, const cJSON *note)
{
    struct sheet *sheet = &paper->sheet;
    sheet_group_begin(sheet);
    note_what_say(sheet, note);
    note_envelope_say(sheet, note);
    sheet_field(sheet, "paper.case", note_text(note, "case_id"));
    note_where_say(sheet, note, paper->options->utc_offset_minutes);
    note_doubt_say(sheet, note);
    note_hand_over_say(sheet, note, paper->options->utc_offset_minutes);
    sheet_group_end(sheet);
}

static void period_say(struct paper *paper)
{
    char time[NOTE_TIME_SIZE];
    const cfoil_paper_options *options = paper->options;
    if (options->from_utc_ms > 0) {
        note_time_write(options->from_utc_ms, options->utc_offset_minutes, time);
        sheet_field(&paper->sheet, "paper.from", time);
    }
    if (options->until_utc_ms > 0) {
        note_time_write(options->until_utc_ms - 1, options->utc_offset_minutes, time);
        sheet_field(&paper->sheet, "paper.until", time);
    }
}

static void hand_over_write(struct paper *paper)
{
    struct sheet *sheet = &paper->sheet;
    const cJSON *note;
    heading_say(paper, "paper.hand_over.title", false);
    period_say(paper);
    if (paper->note == NULL)
        sheet_message(sheet, "paper.empty");
    sums_say(paper, "paper.count", false, true);
    sums_say(paper, "paper.total", false, false);
    cJSON_ArrayForEach(note, paper->notes)
    {
        hand_over_note_say(paper, note);
    }
    sheet_group_begin(sheet);
    sheet_message(sheet, "paper.no_finding");
    rule_named_say(paper, "rules.tell_whom", paper->place->tell_whom.text);
    rule_named_say(paper, "rules.deadline", paper->place->deadline.text);
    rule_say(paper, paper->place->caution.text);
    sheet_blank(sheet, "paper.sign.given");
    sheet_blank(sheet, "paper.sign.taken");
    sheet_blank(sheet, "paper.sign.receipt");
    sheet_blank(sheet, "paper.sign.date");
    sheet_group_end(sheet);
    end_say(paper);
}

/* ---- List of a period ---- */

static int64_t payment_count(const struct paper *paper, const char *sale)
{
    int64_t count = 0;
    const cJSON *note;
    cJSON_ArrayForEach(note, paper->notes)
    {
        count += counts(note, false) && strcmp(note_text(note, "sale"), sale) == 0;
    }
    return count;
}

static bool payment_first(const struct paper *paper, const cJSON *note)
{
    const cJSON *other;
    cJSON_ArrayForEach(other, paper->notes)
    {
        if (other == note)
            return true;
        if (counts(other, false) && strcmp(note_text(other, "sale"), note_text(note, "sale")) == 0)
            return false;
    }
    return true;
}

static void payment_say(struct paper *paper, const char *sale, int64_t count)
{
    struct growing line = {.memory = paper->sheet.growing.memory};
    const cfoil_argument arguments[] = {{"title", sale, 0}, {"number", NULL, count}};
    phrase_add(&line, phrase_of_key(paper->sheet.packs, paper->sheet.language, "paper.pieces"), arguments, 2);
    sheet_field(&paper->sheet, "paper.payment", growing_text(&line));
    paper->sheet.growing.failed = paper->sheet.growing.failed || line.failed;
    growing_release(&line);
}

/* The payments with so many notes that the place's rule speaks of them. Notes without a sale's number cannot be told. */
static void pieces_say(struct paper *paper)
{
    const struct pack_limit *limit = &paper->place->pieces;
    bool any = false;
    const cJSON *note;
    if (limit->rule.text[0] == '\0')
        return;
    rule_say(paper, limit->rule.text);
    cJSON_ArrayForEach(note, paper->notes)
    {
        const char *sale = note_text(note, "sale");
        if (limit->number == 0 || sale[0] == '\0' || !counts(note, false) || !payment_first(paper, note))
            continue;
        int64_t count = payment_count(paper, sale);
        if (count >= (int64_t)limit->number) {
            payment_say(paper, sale, count);
            any = true;
        }
    }
    if (!any && limit->number > 0)
        sheet_message(&paper->sheet, "paper.pieces.none");
}

static void period_note_say(struct paper *paper, const cJSON *note)
{
    struct sheet *sheet = &paper->sheet;
    sheet_group_begin(sheet);
    note_what_say(sheet, note);
    note_where_say(sheet, note, paper->options->utc_offset_minutes);
    note_envelope_say(sheet, note);
    sheet_field(sheet, "paper.case", note_text(note, "case_id"));
    sheet_field(sheet, "paper.state",
                phrase_of_word(sheet->packs, sheet->language, "paper.state", note_text(note, "state")).pattern);
    note_hand_over_say(sheet, note, paper->options->utc_offset_minutes);
    sheet_group_end(sheet);
}

static void period_write(struct paper *paper)
{
    struct sheet *sheet = &paper->sheet;
    const cJSON *note;
    heading_say(paper, "paper.period.title", false);
    period_say(paper);
    if (kept_count(paper) == 0)
        sheet_message(sheet, "paper.empty");
    sums_say(paper, "paper.count", false, true);
    sums_say(paper, "paper.total", false, false);
    sums_say(paper, "paper.left", true, false);
    pieces_say(paper);
    cJSON_ArrayForEach(note, paper->notes)
    {
        if (counts(note, false))
            period_note_say(paper, note);
    }
    sheet_group_begin(sheet);
    sheet_message(sheet, "paper.no_finding");
    rule_named_say(paper, "rules.deadline", paper->place->deadline.text);
    rule_say(paper, paper->place->caution.text);
    sheet_group_end(sheet);
    end_say(paper);
}

/* ---- Which paper ---- */

static int32_t period_check(const struct paper *paper, cfoil_error_info *error)
{
    (void)paper;
    (void)error;
    return CFOIL_OK;
}

static const struct {
    int32_t (*check)(const struct paper *paper, cfoil_error_info *error);
    void (*write)(struct paper *paper);
} papers[] = {
    [CFOIL_PAPER_RECEIPT] = {receipt_check, receipt_write},
    [CFOIL_PAPER_LABEL] = {label_check, label_write},
    [CFOIL_PAPER_HAND_OVER] = {hand_over_check, hand_over_write},
    [CFOIL_PAPER_PERIOD] = {period_check, period_write},
};

static struct keep_notes_wish wish_of(const cfoil_paper_options *options)
{
    struct keep_notes_wish wish = {KEEP_NOTES_REFUSED, options->case_id, options->from_utc_ms, options->until_utc_ms};
    bool any_time = options->from_utc_ms == 0 && options->until_utc_ms == 0;
    if (options->case_id != NULL)
        wish.of = KEEP_NOTES_OF_CASE;
    else if (options->kind == CFOIL_PAPER_HAND_OVER)
        wish.of = any_time ? KEEP_NOTES_HELD : KEEP_NOTES_HANDED_OVER;
    return wish;
}

static int32_t place_find(struct paper *paper, const char *place, cfoil_error_info *error)
{
    paper->place = pack_jurisdiction_find(paper->sheet.packs, place);
    if (paper->place != NULL)
        return CFOIL_OK;
    return error_set(error, CFOIL_E_MISSING_JURISDICTION, 0, AREA,
                     "No pack holds the jurisdiction %.40s: load it, or name another.", place);
}

/* A sum needs to know the currency's decimal places. */
static int32_t currencies_check(const struct paper *paper, cfoil_error_info *error)
{
    const cJSON *note;
    cJSON_ArrayForEach(note, paper->notes)
    {
        if (pack_currency_find(paper->sheet.packs, note_text(note, "currency")) == NULL)
            return error_set(error, CFOIL_E_MISSING_PACK, 0, AREA,
                             "A note of the list is in %.8s, for which no pack is loaded: load it.",
                             note_text(note, "currency"));
    }
    return CFOIL_OK;
}

static int32_t paper_check(struct paper *paper, const char *place, cfoil_error_info *error)
{
    if (paper->options->case_id != NULL && paper->note == NULL)
        return error_set(error, CFOIL_E_MISSING_CASE, 0, AREA,
                         "The ledger knows no ended case %.64s: look at the list of held notes.",
                         paper->options->case_id);
    int32_t result = place_find(paper, place, error);
    if (result == CFOIL_OK)
        result = currencies_check(paper, error);
    return result == CFOIL_OK ? papers[paper->options->kind].check(paper, error) : result;
}

/* ---- Facts ---- */

int32_t paper_facts_read(struct ledger *ledger, const cfoil_paper_options *options, struct paper_facts *facts,
                         cfoil_error_info *error)
{
    struct keep_notes_wish wish = wish_of(options);
    facts->notes = NULL;
    int32_t result = keep_store_name(ledger, facts->store, sizeof facts->store, error);
    return result == CFOIL_OK ? keep_notes(ledger, &wish, &facts->notes, error) : result;
}

void paper_facts_free(struct paper_facts *facts)
{
    cJSON_Delete(facts->notes);
    facts->notes = NULL;
}

/* The rules that the case was led by, unless others are asked for. */
const char *paper_jurisdiction(const struct paper_facts *facts, const cfoil_paper_options *options)
{
    if (options->jurisdiction != NULL || options->case_id == NULL)
        return options->jurisdiction != NULL ? options->jurisdiction : "";
    const cJSON *note = facts->notes->child;
    return note_text(cJSON_GetObjectItemCaseSensitive(note, "body"), "jurisdiction");
}

const char *paper_currency(const struct paper_facts *facts, int index)
{
    const cJSON *note = cJSON_GetArrayItem(facts->notes, index);
    return note != NULL ? note_text(note, "currency") : NULL;
}

/* ---- The whole ---- */

int32_t paper_write(const struct memory *memory, const struct pack_set *packs, const cfoil_paper_options *options,
                    const struct paper_facts *facts, int64_t now_utc_ms, char **text, cfoil_error_info *error)
{
    static const size_t columns[] = {[CFOIL_PAPER_PLAIN_42] = 42, [CFOIL_PAPER_PLAIN_48] = 48, [CFOIL_PAPER_HTML] = 0};
    struct paper paper = {
        .options = options,
        .notes = facts->notes,
        .note = facts->notes->child,
        .store = facts->store,
        .now_utc_ms = now_utc_ms,
        .sheet = {.growing = {.memory = memory}, .packs = packs, .columns = columns[options->format]},
    };
    paper.sheet.language = options->language != NULL && options->language[0] != '\0' ? options->language : "en";
    *text = NULL;
    int32_t result = paper_check(&paper, paper_jurisdiction(facts, options), error);
    if (result == CFOIL_OK)
        papers[options->kind].write(&paper);
    if (result == CFOIL_OK && paper.sheet.growing.failed)
        result = error_memory_set(error, AREA);
    if (result == CFOIL_OK)
        *text = paper.sheet.growing.text;
    else
        growing_release(&paper.sheet.growing);
    return result;
}
