/*
 * What banks give for damaged notes: every row of the published tables and every limit, from both sides.
 */
#include "packs/pack_exchange.h"
#include "unit/damaged/ask.h"

/* ---- The rupee: Note Refund Rules 2009 as amended in 2018 ---- */

/* Tables of areas in whole square centimetres, written down here a second time: table 1 from a newspaper's copy of September
 * 2018, table 2 from newspapers of 2018 to 2022; halves, and the rows of the earlier series in table 2, are ours: 80 % and
 * 40 % of the area, rounded up, which gives every published figure. Areas in hundredths of a square centimetre. */
static const struct {
    int64_t value_minor;
    const char *series;
    int area, full_cm2, half_cm2; /* half 0 = there is no half value */
} rupees[] = {
    {100, "small", 6111, 31, 0},   {200, "small", 6741, 34, 0},  {500, "M", 7371, 37, 0},    {1000, "M", 8631, 44, 0},
    {1000, "N", 7749, 39, 0},      {2000, "M", 9261, 47, 0},     {2000, "N", 8127, 41, 0},   {5000, "M", 10731, 86, 43},
    {5000, "N", 8910, 72, 36},     {10000, "M", 11461, 92, 46},  {10000, "N", 9372, 75, 38}, {20000, "N", 9636, 78, 39},
    {50000, "N", 9900, 80, 40},    {200000, "N", 10956, 88, 44}, /* and by the rule, no row of their own: */
    {10000, "M15", 11461, 92, 46}, {500, "P", 7371, 37, 0},      {1000, "P", 8631, 44, 0},   {2000, "P", 9261, 47, 0},
    {5000, "P", 10731, 86, 43},    {10000, "P", 11461, 92, 46},
};

static void every_row_of_the_rupee_tables_holds(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rupees / sizeof rupees[0]; i++) {
        int64_t value = rupees[i].value_minor;
        const char *series = rupees[i].series;
        int64_t full = rupees[i].full_cm2 * 100000LL;
        if (rupees[i].half_cm2 == 0) {
            limit_expect("INR", value, series, full, true, "full", "nil");
            continue;
        }
        limit_expect("INR", value, series, full, true, "full", "half");
        limit_expect("INR", value, series, rupees[i].half_cm2 * 100000LL, true, "half", "nil");
    }
}

static int rounded_up(int area, int percent)
{
    return (area * percent + 9999) / 10000;
}

/* The arithmetic of the tables, and that the pack's areas are length by height of the currency pack. */
static void the_tables_follow_from_the_areas(void **state)
{
    (void)state;
    const struct pack_currency *rupee = pack_currency_find(ask_packs, "INR");
    const struct pack_exchange *exchange = pack_exchange_find(ask_packs, "INR");
    for (size_t i = 0; i < sizeof rupees / sizeof rupees[0]; i++) {
        const struct pack_note *note = pack_note_find(rupee, rupees[i].value_minor, rupees[i].series);
        assert_non_null(note);
        assert_int_equal(note->length_mm * note->height_mm, rupees[i].area);
        bool small = rupees[i].value_minor < 5000;
        assert_int_equal(rupees[i].full_cm2, rounded_up(rupees[i].area, small ? 50 : 80));
        assert_int_equal(rupees[i].half_cm2, small ? 0 : rounded_up(rupees[i].area, 40));
    }
    for (uint32_t i = 0; i < exchange->area_count; i++) {
        const struct pack_area *row = &exchange->areas[i];
        const struct pack_note *note = pack_note_find(rupee, row->value_minor, row->series);
        assert_non_null(note);
        assert_int_equal(note->length_mm * note->height_mm, row->area_mm2);
        assert_int_equal(row->limits_mm2[0], rounded_up(row->area_mm2, row->value_minor < 5000 ? 50 : 80) * 100);
        if (row->value_minor >= 5000)
            assert_int_equal(row->limits_mm2[1], rounded_up(row->area_mm2, 40) * 100);
    }
}

/* What was worked out here never passes for published (the sheets mark the halves of 50, 100 and 500 so). */
static void derived_limits_say_so(void **state)
{
    (void)state;
    const struct pack_exchange *exchange = pack_exchange_find(ask_packs, "INR");
    for (uint32_t i = 0; i < exchange->area_count; i++) {
        const struct pack_area *row = &exchange->areas[i];
        bool published_half = row->value_minor == 20000 || row->value_minor == 200000;
        if (row->value_minor >= 5000)
            assert_int_equal(row->limit_confidence[1], published_half ? CONFIDENCE_SEVERAL : CONFIDENCE_DERIVED);
        if (row->value_minor >= 5000 && strcmp(row->series, "M") == 0)
            assert_int_equal(row->limit_confidence[0], CONFIDENCE_DERIVED);
    }
}

static void outcome_of(const char *body, const char *outcome, int64_t least_minor, int64_t most_minor)
{
    cJSON *answer = ask(body);
    if (strcmp(look_text(answer, "worth", "outcome"), outcome) != 0)
        print_error("%s: %s\n", body, look_text(answer, "worth", "outcome"));
    assert_string_equal(look_text(answer, "worth", "outcome"), outcome);
    const cJSON *least = look(answer, "worth", "value_at_least_minor");
    const cJSON *most = look(answer, "worth", "value_at_most_minor");
    if (least_minor < 0) {
        assert_true(cJSON_IsNull(least) && cJSON_IsNull(most));
    } else {
        assert_int_equal((int64_t)least->valuedouble, least_minor);
        assert_int_equal((int64_t)most->valuedouble, most_minor);
    }
    cJSON_Delete(answer);
}

#define INR(value)      "\"currency\":\"INR\",\"value_minor\":" #value
#define PIECE(mm2)      "{\"area_mm2\":" #mm2 ",\"bound_mm2\":0}"
#define CONDITION(word) ",\"conditions\":[\"" word "\"]"

/* Two pages on the rules of 2018: two pieces of the same note, each at least 40 %, give the full value from 50 on. */
static void two_pieces_of_one_note_give_the_full_value(void **state)
{
    (void)state;
    outcome_of(INR(50000) CONDITION("two_pieces") ",\"pieces\":[" PIECE(4000) "," PIECE(5000) "]", "full", 50000,
               50000);
    outcome_of(INR(50000) CONDITION("two_pieces") ",\"pieces\":[" PIECE(3999.999) "," PIECE(5000) "]", "half", 25000,
               25000);
    outcome_of(INR(50000)
                   CONDITION("two_pieces") ",\"pieces\":[{\"area_mm2\":4000,\"bound_mm2\":0.001}," PIECE(5000) "]",
               "too_close", 25000, 50000);
    /* Not said to be of one note, or a third piece: the largest counts. */
    outcome_of(INR(50000) ",\"pieces\":[" PIECE(4000) "," PIECE(5000) "]", "half", 25000, 25000);
    outcome_of(INR(50000) CONDITION("several_pieces") ",\"pieces\":[" PIECE(4000) "," PIECE(4000) "," PIECE(500) "]",
               "half", 25000, 25000);
    /* Below 50 there is no such rule; whole and from 10 on, two pieces count as soiled. */
    outcome_of(INR(2000) CONDITION("two_pieces") ",\"pieces\":[" PIECE(4000) "," PIECE(4000) "]", "nil", 0, 0);
    outcome_of(INR(1000) CONDITION("two_pieces"), "full", 1000, 1000);
    outcome_of(INR(500) ",\"series\":\"M\"" CONDITION("two_pieces"), "not_known", -1, -1);
}

/* One page: halves of different notes, from 50 each a claim of its own, below 50 by the area of the piece. */
static void joined_halves_of_two_notes_are_two_claims(void **state)
{
    (void)state;
    cJSON *answer = ask(INR(50000) CONDITION("mismatched") ",\"pieces\":[" PIECE(4950) "," PIECE(3000) "]");
    assert_string_equal(look_text(answer, "worth", "state"), "each_piece");
    const cJSON *claims = look(answer, "worth", "claims");
    assert_int_equal(cJSON_GetArraySize(claims), 2);
    assert_string_equal(look_text(cJSON_GetArrayItem(claims, 0), "outcome", NULL), "half");
    assert_string_equal(look_text(cJSON_GetArrayItem(claims, 1), "outcome", NULL), "nil");
    assert_int_equal(look(answer, "worth", "value_at_most_minor")->valueint, 25000);
    cJSON_Delete(answer);
    outcome_of(INR(2000) CONDITION("mismatched") ",\"pieces\":[" PIECE(4100) "," PIECE(4000) "]", "full", 2000, 2000);
    outcome_of(INR(2000) CONDITION("mismatched") ",\"pieces\":[" PIECE(4063) "," PIECE(4064) "]", "nil", 0, 0);
}

/* Rule 6(3) as reported; brittle and burnt notes; notes that are no longer money. */
static void conditions_decide_before_any_area(void **state)
{
    (void)state;
    static const char *const refused[] = {"features_missing", "altered", "damaged_on_purpose", "message", "stamped"};
    static const char *const special[] = {"burnt", "brittle", "stuck_together"};
    char body[256];
    for (size_t i = 0; i < 5; i++) {
        (void)snprintf(body, sizeof body, INR(50000) ",\"conditions\":[\"soiled\",\"%s\"],\"pieces\":[" PIECE(9900) "]",
                       refused[i]);
        outcome_of(body, "refused", 0, 0);
    }
    for (size_t i = 0; i < 3; i++) {
        (void)snprintf(body, sizeof body, INR(50000) ",\"conditions\":[\"%s\",\"part_missing\"]", special[i]);
        outcome_of(body, "special_office", -1, -1);
    }
    outcome_of(INR(50000) CONDITION("soiled"), "full", 50000, 50000);
    outcome_of(INR(50000) CONDITION("scribbled"), "full", 50000, 50000);
    outcome_of(INR(50000) CONDITION("washed"), "full", 50000, 50000);
    outcome_of(INR(50000) CONDITION("dye_stained"), "not_known", -1, -1); /* a gap of the sheet */
    outcome_of(INR(50000) ",\"series\":\"M\"" CONDITION("soiled"), "nil", 0, 0);
    outcome_of(INR(100000) ",\"series\":\"P\",\"pieces\":[" PIECE(12921) "]", "nil", 0, 0);
}

static const char *quota_of(const char *body, uint32_t index, char text[256])
{
    cJSON *answer = ask(body);
    const cJSON *row = cJSON_GetArrayItem(look(answer, "quotas", NULL), (int)index);
    (void)snprintf(text, 256, "%s", row != NULL ? look_text(row, "text", NULL) : "none");
    cJSON_Delete(answer);
    return text;
}

static void quota_expect(const char *body, uint32_t index, const char *part)
{
    char text[256];
    if (strstr(quota_of(body, index, text), part) == NULL)
        print_error("%s: %s\n", body, text);
    assert_non_null(strstr(text, part));
}

/* Limits a person and day: two newspapers of July 2016; chest branches: a newspaper of 14 May 2024. Each from both sides. */
static void daily_limits_are_told(void **state)
{
    (void)state;
    quota_expect(INR(20000) CONDITION("soiled") ",\"notes\":20", 0, "over the counter");
    quota_expect(INR(20000) CONDITION("soiled") ",\"notes\":21", 0, "against a receipt");
    quota_expect(INR(50000) CONDITION("soiled") ",\"notes\":10,\"total_minor\":500000", 0, "over the counter");
    quota_expect(INR(50000) CONDITION("soiled") ",\"notes\":10,\"total_minor\":500001", 0, "against a receipt");
    quota_expect(INR(50000) CONDITION("soiled") ",\"notes\":10", 1, "none");
    quota_expect(INR(50000) CONDITION("part_missing") ",\"notes\":5", 0, "at the counter of any branch");
    quota_expect(INR(50000) CONDITION("part_missing") ",\"notes\":6,\"total_minor\":500000", 0, "insured post");
    quota_expect(INR(50000) CONDITION("part_missing") ",\"notes\":6,\"total_minor\":500001", 0, "go to a chest branch");
    quota_expect(INR(50000) CONDITION("soiled") ",\"notes\":100", 1, "none");
    quota_expect(INR(50000) CONDITION("soiled") ",\"notes\":101", 1, "usual precautions");
    quota_expect(INR(50000) CONDITION("burnt") ",\"notes\":6", 0, "none");
    quota_expect("\"currency\":\"EUR\",\"value_minor\":10000" CONDITION("soiled") ",\"notes\":100", 0, "business");
    quota_expect(
        "\"currency\":\"EUR\",\"value_minor\":10000" CONDITION("soiled") ",\"notes\":100,\"total_minor\":999999", 0,
        "none");
}

/* ---- The euro: Decision ECB/2013/10 Art. 3; the dollar: 31 CFR 100.7; the pound: the Bank's rule of thumb ---- */

static void more_than_half_of_a_euro_note_is_paid(void **state)
{
    (void)state;
    const struct pack_currency *euro = pack_currency_find(ask_packs, "EUR");
    static const int64_t values[] = {500, 1000, 2000, 5000, 10000, 20000, 50000};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        static const char *const series[] = {"ES2", "ES1"};
        for (size_t j = 0; j < 2; j++) {
            const struct pack_note *note = pack_note_find(euro, values[i], series[j]);
            if (note != NULL)
                limit_expect("EUR", values[i], series[j], (int64_t)note->length_mm * note->height_mm * 500, false,
                             "full", "with_proof");
        }
    }
    outcome_of("\"currency\":\"EUR\",\"value_minor\":5000" CONDITION("several_pieces") ",\"pieces\":[" PIECE(
                   2000) "," PIECE(2000) "," PIECE(1391) "]",
               "full", 5000, 5000); /* all pieces count together: 5391 of 10780 */
    outcome_of("\"currency\":\"EUR\",\"value_minor\":5000" CONDITION("damaged_on_purpose"), "refused", 0, 0);
    outcome_of("\"currency\":\"EUR\",\"value_minor\":5000" CONDITION("mismatched"), "not_known", -1, -1);
    cJSON *answer = ask("\"currency\":\"EUR\",\"value_minor\":5000" CONDITION("dye_stained"));
    assert_string_equal(look_text(answer, "worth", "outcome"), "special_office");
    assert_true(cJSON_IsTrue(look(answer, "worth", "decline"))); /* Banca d'Italia, course on banknotes */
    cJSON_Delete(answer);
}

/* 6.14 x 2.61 inches are 10339 mm2; "clearly" more than half is no number, the margin of 5 points is our own. */
static void a_dollar_note_has_no_half_value(void **state)
{
    (void)state;
    limit_expect("USD", 2000, "2003", 10339 * 550, false, "full", "special_office");
    limit_expect("USD", 2000, "2003", 10339 * 450, true, "special_office", "with_proof");
    outcome_of("\"currency\":\"USD\",\"value_minor\":2000" CONDITION("soiled"), "full", 2000, 2000);
    outcome_of("\"currency\":\"USD\",\"value_minor\":2000" CONDITION("destroyed"), "nil", 0, 0);
    outcome_of("\"currency\":\"USD\",\"value_minor\":2000" CONDITION("features_missing"), "special_office", -1, -1);
}

static void half_a_pound_note_is_evidence_enough(void **state)
{
    (void)state;
    limit_expect("GBP", 2000, "QUEEN", 139 * 73 * 500, true, "full", "not_known");
    outcome_of("\"currency\":\"GBP\",\"value_minor\":2000" CONDITION("contaminated"), "special_office", -1, -1);
    cJSON *answer = ask("\"currency\":\"GBP\",\"value_minor\":2000,\"series\":\"PAPER-20-50\"" CONDITION("soiled"));
    const cJSON *topic;
    bool told = false;
    cJSON_ArrayForEach(topic, look(answer, "topics", NULL))
    {
        told = told || strstr(look_text(topic, "text", NULL), "Post Offices") != NULL;
    }
    assert_true(told);
    cJSON_Delete(answer);
}

/* ---- Fitness ---- */

static void fitness_expect(const char *body, const char *expected)
{
    cJSON *answer = ask(body);
    if (strcmp(look_text(answer, "fit", "fitness"), expected) != 0)
        print_error("%s: %s\n", body, look_text(answer, "fit", "fitness"));
    assert_string_equal(look_text(answer, "fit", "fitness"), expected);
    cJSON_Delete(answer);
}

static void defect_expect(const char *currency, int64_t value_minor, const char *series, const char *defect,
                          const char *expected)
{
    char body[512];
    (void)snprintf(body, sizeof body, "\"currency\":\"%s\",\"value_minor\":%lld,\"series\":\"%s\",\"defects\":[{%s}]",
                   currency, (long long)value_minor, series, defect);
    fitness_expect(body, expected);
}

/* The European Central Bank's minimum standards: greatest increase of density, in hundredths. */
static const struct {
    int64_t value_minor;
    int es2, es1; /* 0 = no such note */
} soil[] = {{500, 4, 6}, {1000, 4, 6}, {2000, 7, 8}, {5000, 7, 7}, {10000, 7, 7}, {20000, 7, 4}, {50000, 0, 4}};

static const char *machine_fitness(const cJSON *answer)
{
    const cJSON *limit;
    const cJSON *defect = cJSON_GetArrayItem(look(answer, "fit", "defects"), 0);
    cJSON_ArrayForEach(limit, look(defect, "limits", NULL))
    {
        if (strcmp(look_text(limit, "by", NULL), "machine") == 0)
            return look_text(limit, "fitness", NULL);
    }
    return "none";
}

/* Soil that is seen is unfit by hand (Banca d'Italia); so the limit of the machine is looked at by itself. */
static void soil_expect(int64_t value_minor, const char *series, int hundredths)
{
    for (int thousandths = hundredths * 10 - 1; thousandths <= hundredths * 10 + 1; thousandths++) {
        char body[256];
        (void)snprintf(body, sizeof body,
                       "\"currency\":\"EUR\",\"value_minor\":%lld,\"series\":\"%s\",\"defects\":[{\"defect\":\"soil\","
                       "\"density\":0.%03d}]",
                       (long long)value_minor, series, thousandths);
        cJSON *answer = ask(body);
        assert_string_equal(machine_fitness(answer), thousandths > hundredths * 10 ? "unfit" : "fit");
        assert_string_equal(look_text(answer, "fit", "fitness"), "unfit");
        cJSON_Delete(answer);
    }
}

static void soil_limits_of_the_euro(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof soil / sizeof soil[0]; i++) {
        if (soil[i].es2 != 0)
            soil_expect(soil[i].value_minor, "ES2", soil[i].es2);
        soil_expect(soil[i].value_minor, "ES1", soil[i].es1);
    }
}

/* Sizes of faults: those marked "from memory" in the pack are from memory here, too, and prove only that we apply them as
 * written down. Missing parts, folds and tape: Banca d'Italia. Corners and holes of rupees: press on the circular of 1 July 2022. */
static void sizes_of_faults_from_both_sides(void **state)
{
    (void)state;
    static const struct {
        const char *currency, *series;
        int64_t value_minor;
        const char *defect, *expected;
    } rows[] = {
        {"INR", "N", 50000, "\"defect\":\"hole\",\"area_mm2\":8", "fit"},
        {"INR", "N", 50000, "\"defect\":\"hole\",\"area_mm2\":8.001", "unfit"},
        {"INR", "N", 50000, "\"defect\":\"folded_corner\",\"area_mm2\":100", "fit"},
        {"INR", "N", 50000, "\"defect\":\"folded_corner\",\"area_mm2\":100.001", "unfit"},
        {"INR", "N", 50000, "\"defect\":\"limp\"", "unfit"},
        {"INR", "N", 50000, "\"defect\":\"hole\"", "not_measured"},
        {"EUR", "ES2", 5000, "\"defect\":\"hole\",\"area_mm2\":10", "fit"},
        {"EUR", "ES2", 5000, "\"defect\":\"hole\",\"area_mm2\":10.001", "unfit"},
        {"EUR", "ES2", 5000, "\"defect\":\"missing\",\"length_mm\":5.999,\"width_mm\":4.999", "fit"},
        {"EUR", "ES2", 5000, "\"defect\":\"missing\",\"length_mm\":6,\"width_mm\":0", "unfit"},
        {"EUR", "ES2", 5000, "\"defect\":\"missing\",\"length_mm\":0,\"width_mm\":5", "unfit"},
        {"EUR", "ES2", 5000, "\"defect\":\"tear\",\"how\":\"vertical\",\"width_mm\":4,\"length_mm\":9", "fit"},
        {"EUR", "ES2", 5000, "\"defect\":\"tear\",\"how\":\"vertical\",\"width_mm\":4.001,\"length_mm\":8", "fit"},
        {"EUR", "ES2", 5000, "\"defect\":\"tear\",\"how\":\"vertical\",\"width_mm\":4.001,\"length_mm\":8.001",
         "unfit"},
        {"EUR", "ES2", 5000, "\"defect\":\"tear\",\"how\":\"horizontal\",\"width_mm\":5,\"length_mm\":15", "fit"},
        {"EUR", "ES2", 5000, "\"defect\":\"tear\",\"how\":\"horizontal\",\"width_mm\":5,\"length_mm\":15.001", "unfit"},
        {"EUR", "ES2", 5000, "\"defect\":\"tear\",\"how\":\"diagonal\",\"width_mm\":5,\"length_mm\":18", "fit"},
        {"EUR", "ES2", 5000, "\"defect\":\"tear\",\"how\":\"diagonal\",\"width_mm\":5,\"length_mm\":18.001", "unfit"},
        /* The way of the tear not said: the strictest counts. */
        {"EUR", "ES2", 5000, "\"defect\":\"tear\",\"width_mm\":5,\"length_mm\":9", "unfit"},
        {"EUR", "ES2", 5000, "\"defect\":\"tear\",\"how\":\"vertical\",\"length_mm\":9", "not_measured"},
        {"EUR", "ES2", 5000, "\"defect\":\"folded_corner\",\"area_mm2\":131,\"width_mm\":10", "fit"},
        {"EUR", "ES2", 5000, "\"defect\":\"folded_corner\",\"area_mm2\":130,\"width_mm\":11", "fit"},
        {"EUR", "ES2", 5000, "\"defect\":\"folded_corner\",\"area_mm2\":130.001,\"width_mm\":10.001", "unfit"},
        {"EUR", "ES2", 5000, "\"defect\":\"fold\",\"length_mm\":6", "unfit"},
        {"EUR", "ES2", 5000, "\"defect\":\"fold\",\"width_mm\":5", "unfit"},
        {"EUR", "ES2", 5000, "\"defect\":\"fold\",\"length_mm\":5.999,\"width_mm\":4.999", "fit"},
        {"EUR", "ES2", 5000, "\"defect\":\"graffiti\"", "not_known"},
        {"EUR", "ES2", 5000, "\"defect\":\"repair\"", "unfit"}, /* by hand always (Banca d'Italia) */
        {"USD", "2003", 2000, "\"defect\":\"tear\"", "unfit"},  /* wording of 31 CFR 100.5 */
        {"USD", "2003", 2000, "\"defect\":\"hole\",\"area_mm2\":50", "not_known"},
        {"GBP", "QUEEN", 2000, "\"defect\":\"hole\",\"area_mm2\":50", "not_known"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        defect_expect(rows[i].currency, rows[i].value_minor, rows[i].series, rows[i].defect, rows[i].expected);
}

static void machine_expect(const char *defect, const char *expected)
{
    char body[256];
    (void)snprintf(body, sizeof body, "\"currency\":\"EUR\",\"value_minor\":5000,\"defects\":[{%s}]", defect);
    cJSON *answer = ask(body);
    assert_string_equal(machine_fitness(answer), expected);
    cJSON_Delete(answer);
}

/* Tape: more than 400 mm2 and thicker than 50 um (Banca d'Italia). Stains: from memory. By hand both are unfit always. */
static void machine_limits_of_tape_and_stains(void **state)
{
    (void)state;
    machine_expect("\"defect\":\"repair\",\"area_mm2\":400,\"thickness_um\":60", "fit");
    machine_expect("\"defect\":\"repair\",\"area_mm2\":400.001,\"thickness_um\":50", "fit");
    machine_expect("\"defect\":\"repair\",\"area_mm2\":400.001,\"thickness_um\":50.001", "unfit");
    machine_expect("\"defect\":\"stain\",\"how\":\"unprinted\",\"length_mm\":9,\"width_mm\":8.999", "fit");
    machine_expect("\"defect\":\"stain\",\"how\":\"unprinted\",\"length_mm\":9,\"width_mm\":9", "unfit");
    machine_expect("\"defect\":\"stain\",\"how\":\"printed\",\"length_mm\":14.999,\"width_mm\":15", "fit");
    machine_expect("\"defect\":\"stain\",\"how\":\"printed\",\"length_mm\":15,\"width_mm\":15", "unfit");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_row_of_the_rupee_tables_holds),
        cmocka_unit_test(the_tables_follow_from_the_areas),
        cmocka_unit_test(derived_limits_say_so),
        cmocka_unit_test(two_pieces_of_one_note_give_the_full_value),
        cmocka_unit_test(joined_halves_of_two_notes_are_two_claims),
        cmocka_unit_test(conditions_decide_before_any_area),
        cmocka_unit_test(daily_limits_are_told),
        cmocka_unit_test(more_than_half_of_a_euro_note_is_paid),
        cmocka_unit_test(a_dollar_note_has_no_half_value),
        cmocka_unit_test(half_a_pound_note_is_evidence_enough),
        cmocka_unit_test(soil_limits_of_the_euro),
        cmocka_unit_test(sizes_of_faults_from_both_sides),
        cmocka_unit_test(machine_limits_of_tape_and_stains),
    };
    return cmocka_run_group_tests(tests, ask_open, ask_end);
}
