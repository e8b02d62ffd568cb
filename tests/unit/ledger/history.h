/*
 * A made-up history of some lanes, different for each seed: everything that the sums count, in any order that a device, a
 * clock or a restart may bring about.
 */
#ifndef HISTORY_H
#define HISTORY_H

#include "world.h"

#include "model/json.h"

struct history {
    uint64_t random;
    int64_t time_utc_ms;
    int64_t sequence[3];
    int64_t presentation[3];
    int cases;
    bool origins; /* some entries were imported */
};

/* Numbers of Marsaglia's xorshift (64 bits: 13, 7, 17). */
static inline unsigned history_pick(struct history *history, unsigned of)
{
    history->random ^= history->random << 13;
    history->random ^= history->random >> 7;
    history->random ^= history->random << 17;
    return (unsigned)((history->random >> 11) % of);
}

#define HISTORY_WORD(history, words) (words)[history_pick(history, sizeof(words) / sizeof((words)[0]))]

static inline void history_event(struct history *history, char *body, size_t size, bool presentation)
{
    static const char *const kinds[] = {"held", "stacked", "stacked", "returned", "rejected", "rejected", "other"};
    static const char *const machine[] = {"device", "lost_events", "lane_state"};
    static const char *const notes[] = {",\"currency\":\"EUR\",\"value_minor\":2000", ",\"currency\":null",
                                        ",\"currency\":\"INR\",\"value_minor\":50000,\"note_name\":\"IN0500A\"",
                                        ",\"currency\":\"EUR\",\"value_minor\":1.5", ""};
    static const char *const reasons[] = {"",
                                          ",\"reason\":\"handling\"",
                                          ",\"reason\":\"not_enabled\"",
                                          ",\"reason\":\"authenticity\",\"findings\":[{\"channel\":\"infrared\"},"
                                          "{\"channel\":\"image\"}]",
                                          ",\"reason\":\"of a newer version\"",
                                          ",\"reason\":null"};
    static const char *const troubles[] = {",\"condition\":\"jam_safe\"", ",\"condition\":\"of a newer version\"",
                                           ",\"lost_count\":3",           ",\"lost_count\":null",
                                           ",\"lane_state\":\"lost\"",    ""};
    static const char *const origins[] = {"", "", ",\"origin\":{\"ledger\":\"ab\",\"store\":\"North\"}",
                                          ",\"origin\":{\"store\":\"South\"}"};
    unsigned lane = history_pick(history, 3);
    if (history_pick(history, 40) == 0)
        history->sequence[lane] = history->presentation[lane] = 0;
    if (history_pick(history, 3) != 0)
        history->presentation[lane]++;
    snprintf(body, size, "{\"kind\":\"%s\",\"lane\":\"%u\",\"seq\":%lld,\"presentation\":%lld%s%s%s}",
             presentation ? HISTORY_WORD(history, kinds) : HISTORY_WORD(history, machine), lane,
             (long long)++history->sequence[lane], (long long)history->presentation[lane],
             presentation ? HISTORY_WORD(history, notes) : "",
             presentation ? HISTORY_WORD(history, reasons) : HISTORY_WORD(history, troubles),
             history->origins ? HISTORY_WORD(history, origins) : "");
}

static inline void history_case(struct history *history, char *body, size_t size, struct ledger_item *item,
                                char case_id[40])
{
    static const char *const ends[] = {"taken", "not_taken", "set_aside", "abandoned"};
    static const char *const advices[] = {"null", "\"ask_another\"", "\"of a newer version\""};
    static const char *const overrides[] = {"null", "{\"by\":\"07\",\"why\":\"known customer\"}"};
    static const char *const combined[] = {"{}", "{\"reason\":\"authenticity\",\"channels\":[\"magnetic\"]}"};
    unsigned end = history_pick(history, 4);
    snprintf(case_id, 40, "01900000-0000-7000-8000-%012d", ++history->cases);
    snprintf(body, size,
             "{\"disposition\":\"%s\",\"lane\":\"%u\",\"currency\":\"EUR\",\"value_minor\":5000,\"series\":\"second\","
             "\"advice\":%s,\"override\":%s,\"combined\":%s}",
             ends[end], history_pick(history, 3), HISTORY_WORD(history, advices), HISTORY_WORD(history, overrides),
             HISTORY_WORD(history, combined));
    item->kind = LEDGER_KIND_CASE;
    item->case_id = case_id;
    item->disposition = (int32_t)end + 1;
}

/* One entry. Texts stand in `body` and `case_id`. */
static inline struct ledger_item history_item(struct history *history, char *body, size_t size, char case_id[40])
{
    static const int64_t steps[] = {400,   400,   700,     900,     1500,     3000, 19999,
                                    20001, 60000, 1200000, 7200000, 30000000, -5000};
    struct ledger_item item = item_make(LEDGER_KIND_PRESENTATION, body);
    unsigned which = history_pick(history, 12);
    history->time_utc_ms += HISTORY_WORD(history, steps);
    item.time_utc_ms = history->time_utc_ms;
    if (which == 0) {
        history_case(history, body, size, &item, case_id);
    } else if (which == 1) {
        item.kind = LEDGER_KIND_CUSTODY;
        snprintf(body, size, "{\"move\":\"%s\",\"state\":\"sealed\"}", history_pick(history, 2) ? "seal" : "newer");
    } else {
        item.kind = which < 4 ? LEDGER_KIND_DEVICE : LEDGER_KIND_PRESENTATION;
        history_event(history, body, size, which >= 4);
    }
    return item;
}

/* As the ledger's own bodies are. */
static inline void history_canonical(char *body, size_t size)
{
    cJSON *object = cJSON_Parse(body);
    char *text = json_canonical(object);
    assert_non_null(text);
    snprintf(body, size, "%s", text);
    cJSON_free(text);
    cJSON_Delete(object);
}

/* So many entries, one to six in a transaction. */
static inline void history_append(struct world *world, uint64_t seed, int entries, bool origins)
{
    struct history history = {.random = seed * UINT64_C(0x9E3779B97F4A7C15),
                              .time_utc_ms = item_make("", "").time_utc_ms,
                              .origins = origins,
                              .cases = (int)seed * 1000};
    while (entries > 0) {
        char bodies[6][600];
        char case_ids[6][40];
        struct ledger_item items[6];
        int count = 1 + (int)history_pick(&history, 6);
        for (int i = 0; i < count; i++) {
            items[i] = history_item(&history, bodies[i], sizeof bodies[i], case_ids[i]);
            history_canonical(bodies[i], sizeof bodies[i]);
        }
        assert_int_equal(ledger_append(world->ledger, items, (uint32_t)count, NULL, NULL, &world->error), CFOIL_OK);
        entries -= count;
    }
}

#endif
