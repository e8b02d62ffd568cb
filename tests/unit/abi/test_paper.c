/*
 * Papers through the exported function: what stands on each, in which words, and that no line is wider than the paper.
 */
#include "../packs/accusing.h"
#include "model/cells.h"
#include "model/text.h"
#include "shop.h"

static char text[131072];

static const char *const languages[] = {"en", "de", "fr", "it", "es", "hi"};
static const char *const places[] = {"common", "euro-area", "DE", "UK", "IE", "IT", "LU", "US", "IN"};
enum { LANGUAGES = sizeof languages / sizeof languages[0], PLACES = sizeof places / sizeof places[0] };

static cfoil_paper_options paper_make(int32_t kind, const char *case_id)
{
    cfoil_paper_options options = CFOIL_PAPER_OPTIONS_INIT;
    options.kind = kind;
    options.case_id = case_id;
    options.shop = "Corner shop, 1 High Street";
    return options;
}

static int32_t paper_try(const cfoil_paper_options *options)
{
    return cfoil_paper_write(shop.ledger, options, text, sizeof text, NULL);
}

static const char *paper_of(int32_t kind, const char *case_id)
{
    cfoil_paper_options options = paper_make(kind, case_id);
    assert_int_equal(paper_try(&options), CFOIL_OK);
    return text;
}

/* A note that the machine doubted and the checks too, with its serial number. */
static cfoil_record note_refuse(const char *currency, int64_t value_minor, const char *sale, const char *serial,
                                int32_t disposition, const char *envelope)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    cfoil_event event = CFOIL_EVENT_INIT;
    cfoil_case *doubt;
    options.currency = currency;
    options.value_minor = value_minor;
    options.ledger = shop.ledger;
    options.lane = "till 3";
    options.sale = sale;
    options.staff = "07";
    options.jurisdiction = "DE";
    assert_int_equal(cfoil_case_open(shop.context, &options, &doubt), CFOIL_OK);
    event.kind = CFOIL_KIND_REJECTED;
    event.reason = CFOIL_REASON_AUTHENTICITY;
    event.finding_count = 1;
    event.findings[0].channel = CFOIL_CHANNEL_INFRARED;
    event.findings[0].strength = CFOIL_STRENGTH_STRONG;
    assert_int_equal(cfoil_case_presentation_add(doubt, &event), CFOIL_OK);
    if (serial != NULL)
        assert_int_equal(cfoil_case_serial_set(doubt, serial, NULL), CFOIL_OK);
    shop_case_answer(doubt, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
    return shop_case_end(doubt, disposition, envelope);
}

static cfoil_record euro_keep(const char *sale, const char *envelope)
{
    return note_refuse("EUR", 5000, sale, "VA0436214792", CFOIL_DISPOSITION_SET_ASIDE, envelope);
}

static void step_take(const char *case_id, int32_t move)
{
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    options.move = move;
    options.case_id = case_id;
    options.staff = "01";
    options.envelope = "E 9";
    options.holder = CFOIL_HOLDER_BANK;
    options.keeper = "Branch 12";
    options.receipt = "R-4711";
    options.why = "as told";
    options.happened_utc_ms = INT64_C(1764000000000); /* 2025-11-24T16:00:00Z */
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_OK);
}

static void says(const char *words)
{
    if (strstr(text, words) == NULL)
        fail_msg("'%s' is not in:\n%s", words, text);
}

static void says_not(const char *words)
{
    if (strstr(text, words) != NULL)
        fail_msg("'%s' is in:\n%s", words, text);
}

static cfoil_record note_find(const char *currency, int64_t value_minor)
{
    cfoil_custody_options find = CFOIL_CUSTODY_OPTIONS_INIT;
    cfoil_record found = CFOIL_RECORD_INIT;
    find.move = CFOIL_CUSTODY_FIND;
    find.staff = "07";
    find.place = "safe";
    find.currency = currency;
    find.value_minor = value_minor;
    assert_int_equal(cfoil_custody_move(shop.ledger, &find, &found), CFOIL_OK);
    return found;
}

/* ---- Every paper in every language ---- */

static void lines_check(const char *where, size_t columns)
{
    for (const char *line = text; *line != '\0'; line += strcspn(line, "\n") + 1) {
        size_t length = strcspn(line, "\n");
        assert_int_equal(line[length], '\n');
        if (cells_count(line, length) > columns)
            fail_msg("%s: more than %zu places: %.*s", where, columns, (int)length, line);
        assert_true(length == 0 || line[length - 1] != ' ');
    }
}

/* Every tag that opens closes again, in order; what needs no end is left out. */
static void tags_check(const char *where)
{
    char open[16][16];
    int depth = 0;
    for (const char *at = strchr(text, '<'); at != NULL; at = strchr(at + 1, '<')) {
        size_t length = strcspn(at + 1, " >");
        if (strncmp(at, "<!DOCTYPE", 9) == 0 || strncmp(at, "<meta", 5) == 0)
            continue;
        if (at[1] == '/') {
            assert_true(depth > 0);
            depth--;
            if (strlen(open[depth]) != length - 1 || strncmp(open[depth], at + 2, length - 1) != 0)
                fail_msg("%s: %.*s closes %s", where, (int)length, at + 1, open[depth]);
        } else {
            assert_true(depth < 16 && length < 16);
            snprintf(open[depth++], sizeof open[0], "%.*s", (int)length, at + 1);
        }
    }
    assert_int_equal(depth, 0);
    assert_null(strstr(text, "<script"));
    assert_null(strstr(text, "http")); /* it needs nothing else */
}

static void paper_check(const char *where, const char *language, const cfoil_paper_options *options)
{
    assert_int_equal(paper_try(options), CFOIL_OK);
    const char *word = accusing_word(language, text);
    if (word != NULL)
        fail_msg("%s: '%s' in:\n%s", where, word, text);
    assert_true(text_utf8_valid(text, strlen(text)));
    assert_null(strstr(text, "paper."));
    if (options->format == CFOIL_PAPER_HTML)
        tags_check(where);
    else
        lines_check(where, options->format == CFOIL_PAPER_PLAIN_48 ? 48 : 42);
    if (options->format != CFOIL_PAPER_HTML)
        assert_null(strchr(text, '{')); /* every name in braces was filled in */
}

static void every_paper_fits_and_accuses_nobody(void **state)
{
    (void)state;
    cfoil_record kept = euro_keep("S1", "E 1");
    cfoil_record left = note_refuse("EUR", 5000, "S2", NULL, CFOIL_DISPOSITION_NOT_TAKEN, NULL);
    cfoil_record given = note_refuse("INR", 50000, "S3", NULL, CFOIL_DISPOSITION_SET_ASIDE, NULL);
    step_take(given.case_id, CFOIL_CUSTODY_HAND_OVER);
    const cfoil_paper_options papers[] = {
        paper_make(CFOIL_PAPER_RECEIPT, kept.case_id),
        paper_make(CFOIL_PAPER_RECEIPT, left.case_id),
        paper_make(CFOIL_PAPER_RECEIPT, given.case_id),
        paper_make(CFOIL_PAPER_LABEL, kept.case_id),
        paper_make(CFOIL_PAPER_HAND_OVER, given.case_id),
        paper_make(CFOIL_PAPER_HAND_OVER, NULL),
        paper_make(CFOIL_PAPER_PERIOD, NULL),
    };
    for (int language = 0; language < LANGUAGES; language++) {
        for (int place = 0; place < PLACES; place++) {
            for (size_t i = 0; i < sizeof papers / sizeof papers[0]; i++) {
                for (int32_t format = CFOIL_PAPER_PLAIN_42; format <= CFOIL_PAPER_HTML; format++) {
                    char where[64];
                    cfoil_paper_options options = papers[i];
                    options.language = languages[language];
                    options.jurisdiction = places[place];
                    options.format = format;
                    snprintf(where, sizeof where, "%s, %s, paper %d, format %d", options.language, options.jurisdiction,
                             (int)i, (int)format);
                    paper_check(where, options.language, &options);
                }
            }
        }
    }
}

/* ---- Receipts and labels ---- */

static void a_receipt_says_what_became_of_the_note(void **state)
{
    (void)state;
    cfoil_record kept = euro_keep("S1", "E 1");
    paper_of(CFOIL_PAPER_RECEIPT, kept.case_id);
    says("Corner shop, 1 High Street\n");
    says("Note: EUR 50\n");
    says("Serial number: VA0436214792\n");
    says("Till: till 3\n");
    says("Sale: S1\n");
    says("Staff: 07\n");
    says("Envelope: E 1\n");
    says(kept.case_id);
    says("The shop keeps the note");
    says("Where to ask: Ask the police or your bank"); /* the case was led by the rules of Germany */
    says("Local law decides.");
    step_take(kept.case_id, CFOIL_CUSTODY_HAND_OVER);
    paper_of(CFOIL_PAPER_RECEIPT, kept.case_id);
    says("Handed over to: a bank\n");
    says("Their receipt: R-4711\n");
    says("Handed over: 2025-11-24 16:00 +00:00\n");
    cfoil_record back = euro_keep("S2", "E 2");
    step_take(back.case_id, CFOIL_CUSTODY_GIVE_BACK);
    paper_of(CFOIL_PAPER_RECEIPT, back.case_id);
    says("The note was given back to you.");
    cfoil_record left = note_refuse("EUR", 5000, NULL, NULL, CFOIL_DISPOSITION_NOT_TAKEN, NULL);
    paper_of(CFOIL_PAPER_RECEIPT, left.case_id);
    says("It stays\nwith you.\n");
    says("Serial number: not written down\n");
    says_not("Envelope");
}

static void there_is_no_receipt_without_a_customer(void **state)
{
    (void)state;
    cfoil_record found = note_find("EUR", 2000);
    cfoil_paper_options options = paper_make(CFOIL_PAPER_RECEIPT, found.case_id);
    assert_int_equal(paper_try(&options), CFOIL_E_RULE_CUSTODY);
    cfoil_case *doubt = shop_case_open("S1", 5000);
    shop_case_answer(doubt, CFOIL_ANSWER_AS_IT_SHOULD_BE);
    cfoil_record taken = shop_case_end(doubt, CFOIL_DISPOSITION_TAKEN, NULL);
    options.case_id = taken.case_id;
    assert_int_equal(paper_try(&options), CFOIL_E_RULE_CUSTODY);
    options.kind = CFOIL_PAPER_HAND_OVER;
    assert_int_equal(paper_try(&options), CFOIL_E_RULE_CUSTODY);
    options.case_id = "no-such-case";
    assert_int_equal(paper_try(&options), CFOIL_E_MISSING_CASE);
    paper_of(CFOIL_PAPER_LABEL, found.case_id);
    says("Note: EUR 20\n");
    says("Place: safe\n");
    says("\nEnvelope\n\n____"); /* to be written by hand */
}

static void a_label_is_for_a_note_in_the_shops_hands(void **state)
{
    (void)state;
    cfoil_record kept = euro_keep("S1", "E 1");
    paper_of(CFOIL_PAPER_LABEL, kept.case_id);
    says("Envelope: E 1\n");
    says("name on it.");
    says("Sealed by\n");
    step_take(kept.case_id, CFOIL_CUSTODY_HAND_OVER);
    cfoil_paper_options options = paper_make(CFOIL_PAPER_LABEL, kept.case_id);
    assert_int_equal(paper_try(&options), CFOIL_E_RULE_CUSTODY);
}

/* ---- Lists ---- */

static void a_hand_over_list_holds_what_the_shop_keeps_or_gave_away(void **state)
{
    (void)state;
    cfoil_record first = euro_keep("S1", "E 1");
    cfoil_record second = note_refuse("INR", 50000, "S2", "1AB234567", CFOIL_DISPOSITION_SET_ASIDE, "E 2");
    paper_of(CFOIL_PAPER_HAND_OVER, NULL);
    says("Notes: EUR 50 (1 note)\n");
    says("Together: INR 500 (1 note)\n");
    says("Serial number: VA0436214792\n");
    says("Serial number: 1AB234567\n");
    says("Envelope: E 2\n");
    says("Not as it should be: ");
    says("It named the\n  infrared picture.");
    says("Taken over by (name, office)\n\n____");
    says("Number of the receipt\n\n____");
    step_take(first.case_id, CFOIL_CUSTODY_HAND_OVER);
    paper_of(CFOIL_PAPER_HAND_OVER, NULL);
    says_not("EUR");
    says(second.case_id);
    cfoil_paper_options options = paper_make(CFOIL_PAPER_HAND_OVER, NULL);
    options.from_utc_ms = 1;
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says(first.case_id);
    says_not(second.case_id);
    says("Person or office: Branch 12\n");
    says("Their receipt: R-4711\n");
    step_take(first.case_id, CFOIL_CUSTODY_NOT_GENUINE); /* what came later does not hide the hand-over */
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says("Their receipt: R-4711\n");
    options.until_utc_ms = 2;
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says("There is no such note.\n");
}

static void a_period_counts_by_currency_and_by_payment(void **state)
{
    (void)state;
    for (int i = 0; i < 4; i++)
        note_refuse("INR", 50000, "S-77", NULL, CFOIL_DISPOSITION_SET_ASIDE, NULL);
    note_refuse("INR", 10000, "S-78", NULL, CFOIL_DISPOSITION_SET_ASIDE, NULL);
    note_refuse("EUR", 5000, "S-77", NULL, CFOIL_DISPOSITION_NOT_TAKEN, NULL);
    cfoil_paper_options options = paper_make(CFOIL_PAPER_PERIOD, NULL);
    options.jurisdiction = "IN";
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says("Notes: INR 500 (4 notes)\n");
    says("Notes: INR 100 (1 note)\n");
    says("Together: INR 2100 (5 notes)\n");
    says("Not taken, left with customers: EUR 50 (1\n  note)\n");
    says(
        "No payment of this period had so many\nnotes.\n"); /* four are not five; the one that was left does not count */
    note_refuse("INR", 20000, "S-77", NULL, CFOIL_DISPOSITION_SET_ASIDE, NULL);
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says("Payment: S-77 (5 notes)\n");
    says_not("S-78 (");
    says_not("No payment");
    options.jurisdiction = "DE";
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says_not("Payment:");
    options.until_utc_ms = INT64_C(1764000000000);
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says("There is no such note.\n");
    says("To: 2025-11-24 15:59 +00:00\n");
    options.utc_offset_minutes = 330;
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says("To: 2025-11-24 21:29 +05:30\n");
    options.utc_offset_minutes = -210;
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says("To: 2025-11-24 12:29 -03:30\n");
}

/* ---- What others typed ---- */

static void nothing_typed_steers_printer_or_page(void **state)
{
    (void)state;
    cfoil_record kept = euro_keep("<b>\"S&1'</b>", "E 1");
    cfoil_paper_options options = paper_make(CFOIL_PAPER_RECEIPT, kept.case_id);
    options.shop = "C1 \xC2\x9B, line \xE2\x80\xA8, order \xE2\x80\xAE and \xE2\x81\xA6 end "
                   "Averyverylongnamethatnobodycouldeverprintinonelineofanyreceiptprinter";
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says("C1 ?, line ?, order ? and ? end\nAveryverylongnamethatnobodycouldeverprinti\nnonelineofanyreceiptprinter\n");
    says("Sale: <b>\"S&1'</b>\n");
    lines_check("typed", 42);
    /* A mark of direction takes no place; the sign that stands for it takes one. */
    options.shop = "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa\xE2\x80\xAE\xE2\x80\xAE"
                   "b";
    assert_int_equal(paper_try(&options), CFOIL_OK);
    lines_check("typed", 42);
    options.format = CFOIL_PAPER_HTML;
    assert_int_equal(paper_try(&options), CFOIL_OK);
    says("<b>&lt;b&gt;&quot;S&amp;1&#39;&lt;/b&gt;</b>");
    tags_check("typed");
}

static void mistakes_have_their_answer(void **state)
{
    (void)state;
    cfoil_record kept = euro_keep("S1", "E 1");
    const cfoil_paper_options good = paper_make(CFOIL_PAPER_RECEIPT, kept.case_id);
    cfoil_paper_options options = good;
    options.kind = 0;
    assert_int_equal(paper_try(&options), CFOIL_E_ARGUMENT_RANGE);
    options = good;
    options.format = 4;
    assert_int_equal(paper_try(&options), CFOIL_E_ARGUMENT_RANGE);
    options = good;
    options.utc_offset_minutes = 841;
    assert_int_equal(paper_try(&options), CFOIL_E_ARGUMENT_RANGE);
    options = good;
    options.from_utc_ms = 1;
    assert_int_equal(paper_try(&options), CFOIL_E_ARGUMENT_RANGE);
    options = good;
    options.case_id = NULL;
    assert_int_equal(paper_try(&options), CFOIL_E_ARGUMENT_NULL);
    options = good;
    options.shop = "a\nb";
    assert_int_equal(paper_try(&options), CFOIL_E_ARGUMENT_TEXT);
    options = good;
    options.language = "xx";
    assert_int_equal(paper_try(&options), CFOIL_E_MISSING_LANGUAGE);
    options = good;
    options.jurisdiction = "XX";
    assert_int_equal(paper_try(&options), CFOIL_E_MISSING_JURISDICTION);
    options = paper_make(CFOIL_PAPER_PERIOD, NULL);
    options.from_utc_ms = 5;
    options.until_utc_ms = 5;
    assert_int_equal(paper_try(&options), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_paper_write(shop.ledger, NULL, text, sizeof text, NULL), CFOIL_E_ARGUMENT_NULL);
    size_t needed = 0;
    assert_int_equal(cfoil_paper_write(shop.ledger, &good, NULL, 0, &needed), CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(paper_try(&good), CFOIL_OK);
    assert_int_equal(needed, strlen(text) + 1);
}

/* A note in a currency of which nothing is known has no words for its value. */
static void an_unknown_currency_is_told(void **state)
{
    (void)state;
    note_find("XTS", 100); /* ISO 4217: for tests */
    cfoil_paper_options options = paper_make(CFOIL_PAPER_PERIOD, NULL);
    assert_int_equal(paper_try(&options), CFOIL_E_MISSING_PACK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(every_paper_fits_and_accuses_nobody, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(a_receipt_says_what_became_of_the_note, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(there_is_no_receipt_without_a_customer, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(a_label_is_for_a_note_in_the_shops_hands, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(a_hand_over_list_holds_what_the_shop_keeps_or_gave_away, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(a_period_counts_by_currency_and_by_payment, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(nothing_typed_steers_printer_or_page, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(mistakes_have_their_answer, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(an_unknown_currency_is_told, shop_open, shop_close),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
