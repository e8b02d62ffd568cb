/*
 * The packs that are compiled in: complete, sane, sourced, and worded as a cashier and a customer may read them.
 */
#include "packs/builtin.h"
#include "packs/pack_data.h"
#include "test.h"

#include <stdio.h>
#include <stdlib.h>

static struct pack_set *set;
static const struct pack_currency *euro;

static int set_open(void **state)
{
    (void)state;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (pack_set_create(&memory_heap, &set, &error) != CFOIL_OK) {
        print_error("%s\n", error.text);
        return -1;
    }
    euro = pack_currency_find(set, "EUR");
    return euro != NULL ? 0 : -1;
}

static int set_end(void **state)
{
    (void)state;
    pack_set_release(set);
    return 0;
}

/* ---- The euro: sizes and series (Decision ECB/2019/9 Art. 1), written down here a second time ---- */

static const struct {
    int64_t value_minor;
    const char *series;
    uint32_t length_mm, height_mm;
    const char *colour;
} denominations[] = {
    {500, "ES2", 120, 62, "grey"},     {1000, "ES2", 127, 67, "red"},    {2000, "ES2", 133, 72, "blue"},
    {5000, "ES2", 140, 77, "orange"},  {10000, "ES2", 147, 77, "green"}, {20000, "ES2", 153, 77, "yellow-brown"},
    {500, "ES1", 120, 62, "grey"},     {1000, "ES1", 127, 67, "red"},    {2000, "ES1", 133, 72, "blue"},
    {5000, "ES1", 140, 77, "orange"},  {10000, "ES1", 147, 82, "green"}, {20000, "ES1", 153, 82, "yellow-brown"},
    {50000, "ES1", 160, 82, "purple"},
};
#define DENOMINATION_COUNT (sizeof denominations / sizeof denominations[0])

static void every_denomination_is_there(void **state)
{
    (void)state;
    assert_int_equal(euro->note_count, DENOMINATION_COUNT);
    for (size_t i = 0; i < DENOMINATION_COUNT; i++) {
        const struct pack_note *note = pack_note_find(euro, denominations[i].value_minor, denominations[i].series);
        assert_non_null(note);
        assert_int_equal(note->length_mm, denominations[i].length_mm);
        assert_int_equal(note->height_mm, denominations[i].height_mm);
        assert_string_equal(note->colour, denominations[i].colour);
        assert_true(note->confidence == CONFIDENCE_ONE || note->confidence == CONFIDENCE_SEVERAL);
    }
    assert_null(pack_note_find(euro, 50000, "ES2"));
    assert_string_equal(pack_note_find(euro, 50000, NULL)->series, "ES1");
    assert_string_equal(pack_note_find(euro, 5000, NULL)->series, "ES2");
    assert_non_null(strstr(pack_note_find(euro, 50000, NULL)->status, "no longer issued"));
    assert_string_equal(pack_note_find(euro, 500, NULL)->issued, "2013-05-02");
    assert_int_equal(pack_currency_decimals(euro), 2); /* ISO 4217 */
    assert_string_equal(pack_series_find(euro, "ES2")->status, "issued, legal tender");
}

static const struct pack_check *check_of(int64_t value_minor, const char *series, const char *id)
{
    const struct pack_note *note = pack_note_find(euro, value_minor, series);
    for (uint32_t i = 0; i < note->check_count; i++) {
        if (strcmp(note->checks[i].id, id) == 0)
            return &note->checks[i];
    }
    return NULL;
}

/* Edge lines by value (Deutsche Bundesbank, main features; Oesterreichische Nationalbank for 100 and 200). */
static void edge_lines_have_the_gaps_of_their_value(void **state)
{
    (void)state;
    static const struct {
        int64_t value_minor;
        const char *words;
    } rows[] = {{500, "without a gap"},  {1000, "one gap"},  {2000, "two gaps"},
                {5000, "without a gap"}, {10000, "one gap"}, {20000, "two gaps"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_non_null(strstr(check_of(rows[i].value_minor, "ES2", "edge-lines")->genuine, rows[i].words));
}

/* Which value has what (table of the Europa series' features). */
static void features_are_on_their_values_only(void **state)
{
    (void)state;
    for (size_t i = 0; i < DENOMINATION_COUNT; i++) {
        int64_t value = denominations[i].value_minor;
        const char *series = denominations[i].series;
        bool europa = strcmp(series, "ES2") == 0;
        bool low = value <= 2000;
        assert_int_equal(check_of(value, series, "portrait-window") != NULL, europa && value >= 2000);
        assert_int_equal(check_of(value, series, "satellite-hologram") != NULL, europa && value >= 10000);
        assert_int_equal(check_of(value, series, "emerald-number") != NULL, europa);
        assert_int_equal(check_of(value, series, "watermark") != NULL, europa);
        assert_int_equal(check_of(value, series, "gateway-watermark") != NULL, !europa);
        assert_int_equal(check_of(value, series, "foil-stripe") != NULL, !europa && low);
        assert_int_equal(check_of(value, series, "glossy-stripe-es1") != NULL, !europa && low);
        assert_int_equal(check_of(value, series, "foil-patch") != NULL, !europa && !low);
        assert_int_equal(check_of(value, series, "colour-number") != NULL, !europa && !low);
        assert_int_equal(check_of(value, series, "tactile-marks") != NULL, !europa && value >= 20000);
    }
}

/* Feel, look, tilt first (the Eurosystem's published order), tools last; the short till order is common practice. */
static void every_denomination_can_be_felt_looked_at_and_tilted(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < euro->note_count; i++) {
        uint32_t first[5] = {99, 99, 99, 99, 99};
        const struct pack_note *note = &euro->notes[i];
        for (uint32_t j = note->check_count; j > 0; j--)
            first[note->checks[j - 1].sense] = j;
        assert_true(first[CFOIL_SENSE_FEEL] == 1);
        assert_true(first[CFOIL_SENSE_LOOK] > first[CFOIL_SENSE_FEEL]);
        assert_true(first[CFOIL_SENSE_TILT] > first[CFOIL_SENSE_LOOK]);
        assert_true(first[CFOIL_SENSE_TILT] <= 4);
        assert_true(first[CFOIL_SENSE_TOOL] > first[CFOIL_SENSE_TILT]);
    }
}

/* What a machine can name, some check speaks to; without a tool, but for the size. */
static void every_channel_has_a_check(void **state)
{
    (void)state;
    static const int32_t channels[] = {CFOIL_CHANNEL_IMAGE,    CFOIL_CHANNEL_ULTRAVIOLET, CFOIL_CHANNEL_INFRARED,
                                       CFOIL_CHANNEL_MAGNETIC, CFOIL_CHANNEL_THREAD,      CFOIL_CHANNEL_THICKNESS};
    for (uint32_t i = 0; i < euro->note_count; i++) {
        uint32_t covered = 0;
        uint32_t with_tool = 0;
        for (uint32_t j = 0; j < euro->notes[i].check_count; j++) {
            const struct pack_check *check = &euro->notes[i].checks[j];
            with_tool |= check->channels;
            covered |= check->tool == 0 ? check->channels : 0;
            assert_int_equal(check->channels & 1u << CFOIL_CHANNEL_UNKNOWN, 0);
        }
        for (size_t j = 0; j < sizeof channels / sizeof channels[0]; j++)
            assert_true((covered & 1u << channels[j]) != 0);
        assert_true((with_tool & 1u << CFOIL_CHANNEL_SIZE) != 0);
    }
}

/* The numbers are filled in when the text is shown: the same sentence serves every row. */
static void a_size_check_names_the_size_of_its_row(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < euro->note_count; i++) {
        const struct pack_note *note = &euro->notes[i];
        const struct pack_check *check = check_of(note->value_minor, note->series, "size-ruler");
        assert_non_null(strstr(check->instruction, "{length_mm} mm long and {height_mm} mm high"));
        assert_non_null(strstr(check->genuine, "{length_mm} mm long and {height_mm} mm high"));
    }
}

/* Europa 5 and 10 and part of the 20 are varnished: their feel checks must say so. */
static void varnish_is_told(void **state)
{
    (void)state;
    static const int64_t values[] = {500, 1000, 2000};
    static const char *const ids[] = {"paper", "edge-lines"};
    for (size_t i = 0; i < 3; i++) {
        for (size_t j = 0; j < 2; j++)
            assert_non_null(strstr(check_of(values[i], "ES2", ids[j])->hint, "varnished"));
    }
    assert_null(strstr(check_of(5000, "ES2", "paper")->hint, "varnished"));
}

/* ---- Every check ---- */

static void box_sane(const struct pack_check *check)
{
    const struct pack_box *box = &check->box;
    if (!box->known) {
        assert_int_equal(box->right_permille, 0);
        return;
    }
    assert_true(box->left_permille >= 0 && box->left_permille < box->right_permille && box->right_permille <= 1000);
    assert_true(box->top_permille >= 0 && box->top_permille < box->bottom_permille && box->bottom_permille <= 1000);
    /* No place has been measured on a note yet. The thread of the first series: "middle third", one source. */
    assert_true(box->confidence == CONFIDENCE_ESTIMATE ||
                (box->confidence == CONFIDENCE_ONE && strcmp(check->id, "thread-es1") == 0));
    assert_true(check->side != 0);
}

static void every_check_is_sourced_and_sane(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < euro->note_count; i++) {
        for (uint32_t j = 0; j < euro->notes[i].check_count; j++) {
            const struct pack_check *check = &euro->notes[i].checks[j];
            assert_true(strlen(check->source) > 5);
            assert_true(check->confidence >= CONFIDENCE_SEVERAL && check->confidence <= CONFIDENCE_ESTIMATE);
            assert_true(check->tell_confidence >= CONFIDENCE_SEVERAL);
            assert_true(strlen(check->instruction) <= 90);
            assert_true(strlen(check->title) <= 40);
            assert_true(strlen(check->hint) > 0);
            box_sane(check);
        }
    }
}

/* A place that is not known gets no box. */
static void gaps_have_no_box(void **state)
{
    (void)state;
    assert_false(check_of(5000, "ES2", "glossy-stripe")->box.known);
    assert_false(check_of(500, "ES1", "gateway-watermark")->box.known);
    assert_true(check_of(5000, "ES2", "portrait-window")->box.known);
    assert_int_equal(check_of(5000, "ES2", "portrait-window")->box.top_permille, 50);
    assert_int_equal(check_of(10000, "ES2", "portrait-window")->box.top_permille, 170);
}

/* One foil, one group: its features count once together. Watermark, thread and emerald number stand for themselves. */
static void features_that_depend_on_each_other_share_a_group(void **state)
{
    (void)state;
    static const char *const together[][2] = {{"portrait-window", "hologram-stripe"},
                                              {"satellite-hologram", "window-rainbow"},
                                              {"portrait-window", "satellite-hologram"},
                                              {"paper", "edge-lines"},
                                              {"paper", "uv-paper"},
                                              {"serial-match", "joins"}};
    for (size_t i = 0; i < sizeof together / sizeof together[0]; i++) {
        assert_string_equal(check_of(10000, "ES2", together[i][0])->group,
                            check_of(10000, "ES2", together[i][1])->group);
    }
    static const char *const apart[] = {"paper", "watermark", "thread", "portrait-window", "emerald-number"};
    for (size_t i = 0; i < 5; i++) {
        for (size_t j = i + 1; j < 5; j++)
            assert_string_not_equal(check_of(10000, "ES2", apart[i])->group, check_of(10000, "ES2", apart[j])->group);
    }
}

/* ---- Figures ---- */

static void yearly_figures_are_those_of_the_releases(void **state)
{
    (void)state;
    uint32_t count;
    const struct pack_rate *rates = pack_currency_rates(euro, &count);
    assert_int_equal(count, 8);
    /* European Central Bank, press release of 21 February 2025: 554 000 notes, 18 per million, shares by value. */
    assert_int_equal(rates[1].year, 2024);
    assert_int_equal(rates[1].withdrawn, 554000);
    assert_int_equal(rates[1].per_million, 18);
    uint32_t sum = 0;
    for (uint32_t i = 0; i < rates[1].share_count; i++)
        sum += rates[1].shares[i].permille;
    assert_int_equal(sum, 1000);
}

/* ---- Jurisdictions ---- */

static void jurisdictions_offer_what_their_pages_allow(void **state)
{
    (void)state;
    static const struct {
        const char *id;
        int32_t first;
        enum confidence confidence;
    } rows[] = {{"common", CFOIL_DISPOSITION_NOT_TAKEN, CONFIDENCE_DERIVED},
                {"DE", CFOIL_DISPOSITION_SET_ASIDE, CONFIDENCE_SEVERAL},
                {"LU", CFOIL_DISPOSITION_NOT_TAKEN, CONFIDENCE_ONE}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct pack_jurisdiction *jurisdiction = pack_jurisdiction_find(set, rows[i].id);
        assert_non_null(jurisdiction);
        assert_int_equal(jurisdiction->first_disposition, rows[i].first);
        assert_int_equal(jurisdiction->confidence, rows[i].confidence);
        assert_int_equal(jurisdiction->dispositions, 0x1e);
        assert_int_equal(strlen(jurisdiction->date), 10);
        assert_non_null(strstr(jurisdiction->caution.text, "heck"));
        assert_non_null(strstr(jurisdiction->caution.text, "law"));
        assert_non_null(strstr(jurisdiction->never.text, "as change"));
    }
}

/* ---- Wording ---- */

/* Words that judge a note or a person. Also as parts of words, in either case. */
static const char *const banned[] = {"counterfeit", "fake",  "forge",  "forgery", "criminal", "crime",     "fraud",
                                     "falsch",      "bogus", "phoney", "arrest",  "guilty",   "suspect ",  "suspicious",
                                     "thief",       "steal", "cheat",  "crook",   "illegal",  "confiscat", "seize"};

static bool contains(const char *text, const char *word)
{
    for (; *text != '\0'; text++) {
        size_t length = 0;
        while (word[length] != '\0' && (text[length] | 0x20) == (word[length] | 0x20))
            length++;
        if (word[length] == '\0')
            return true;
    }
    return false;
}

static void wording_check(const char *text, const char *where)
{
    for (size_t i = 0; i < sizeof banned / sizeof banned[0]; i++) {
        if (contains(text, banned[i]))
            print_error("%s: '%s' in '%s'\n", where, banned[i], text);
        assert_false(contains(text, banned[i]));
    }
    assert_null(strstr(text, "  "));
    assert_true(text[0] != ' ');
}

static void checks_judge_nobody(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < euro->note_count; i++) {
        for (uint32_t j = 0; j < euro->notes[i].check_count; j++) {
            const struct pack_check *check = &euro->notes[i].checks[j];
            wording_check(check->title, check->id);
            wording_check(check->instruction, check->id);
            wording_check(check->genuine, check->id);
            wording_check(check->tell, check->id);
            wording_check(check->hint, check->id);
            wording_check(check->source, check->id);
        }
    }
}

static void jurisdictions_judge_nobody(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        if (pack->kind != PACK_JURISDICTION)
            continue;
        const struct pack_jurisdiction *jurisdiction = &pack->as.jurisdiction;
        wording_check(jurisdiction->ask_another.text, jurisdiction->id);
        wording_check(jurisdiction->set_aside.text, jurisdiction->id);
        wording_check(jurisdiction->tell_whom.text, jurisdiction->id);
        wording_check(jurisdiction->write_down.text, jurisdiction->id);
        wording_check(jurisdiction->never.text, jurisdiction->id);
        wording_check(jurisdiction->caution.text, jurisdiction->id);
    }
}

static void messages_judge_nobody(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        if (pack->kind != PACK_MESSAGES)
            continue;
        assert_int_equal(pack->as.messages.message_count, cJSON_GetArraySize(pack->as.messages.messages));
        const cJSON *text;
        cJSON_ArrayForEach(text, pack->as.messages.messages)
        {
            wording_check(text->valuestring, text->string);
            assert_string_equal(pack_message(set, pack->as.messages.language, text->string), text->valuestring);
        }
    }
    assert_string_not_equal(pack_message(set, "en", "caution"), "caution");
}

static void every_built_in_file_is_one_good_pack(void **state)
{
    (void)state;
    assert_int_equal(pack_set_count(set), builtin_pack_count);
    for (size_t i = 0; i < builtin_pack_count; i++) {
        char path[512];
        char summary[256];
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        snprintf(path, sizeof path, "%s/plugin/packs/%s", SOURCE_DIR, builtin_packs[i].name);
        assert_int_equal(pack_file_check(&memory_heap, path, summary, sizeof summary, &error), CFOIL_OK);
        if (strcmp(builtin_packs[i].name, "eur.json") == 0)
            assert_string_equal(summary,
                                "EUR pack: 13 denomination rows, 2 series, 252 checks, every fact with a source");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_built_in_file_is_one_good_pack),
        cmocka_unit_test(every_denomination_is_there),
        cmocka_unit_test(edge_lines_have_the_gaps_of_their_value),
        cmocka_unit_test(features_are_on_their_values_only),
        cmocka_unit_test(every_denomination_can_be_felt_looked_at_and_tilted),
        cmocka_unit_test(every_channel_has_a_check),
        cmocka_unit_test(a_size_check_names_the_size_of_its_row),
        cmocka_unit_test(varnish_is_told),
        cmocka_unit_test(every_check_is_sourced_and_sane),
        cmocka_unit_test(gaps_have_no_box),
        cmocka_unit_test(features_that_depend_on_each_other_share_a_group),
        cmocka_unit_test(yearly_figures_are_those_of_the_releases),
        cmocka_unit_test(jurisdictions_offer_what_their_pages_allow),
        cmocka_unit_test(checks_judge_nobody),
        cmocka_unit_test(jurisdictions_judge_nobody),
        cmocka_unit_test(messages_judge_nobody),
    };
    return cmocka_run_group_tests(tests, set_open, set_end);
}
