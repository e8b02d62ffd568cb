/*
 * The contact-pulse adapter on a virtual clock: random trains, and random lines. No money is invented.
 */
#include "pulse_bench.h"

/* ---- Random trains ---- */

static uint32_t random_below(uint64_t *seed, uint32_t below)
{
    *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)(*seed >> 33) % below;
}

/* An edge with bounce shorter than the debounce time. */
static void edge(struct bench *bench, uint64_t *seed, uint8_t from, uint8_t to)
{
    line(bench, to);
    for (uint32_t bounces = random_below(seed, 4); bounces > 0; bounces--) {
        pass(bench, 100 + random_below(seed, 2000));
        line(bench, from);
        pass(bench, 100 + random_below(seed, 2000));
        line(bench, to);
    }
}

/* What a note of `count` pulses looks like on a line that is not always sound; the sound pulses are counted. */
static void note_feed(struct bench *bench, uint64_t *seed, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++) {
        uint32_t harm = random_below(seed, 40);
        uint64_t on_us = harm == 0   ? MS(1 + random_below(seed, 30))
                         : harm == 1 ? MS(200 + random_below(seed, 100))
                                     : MS(60);
        if (harm != 2)
            edge(bench, seed, bench->idle, bench->pulse);
        pass(bench, on_us / 2);
        if (harm == 3) { /* a drop-out that no debouncing hides */
            line(bench, bench->idle);
            pass(bench, MS(6 + random_below(seed, 13)));
            line(bench, bench->pulse);
        }
        if (harm == 4)
            bench->now_us += MS(25 + random_below(seed, 300)); /* the computer is late */
        pass(bench, on_us / 2);
        if (harm != 2)
            edge(bench, seed, bench->pulse, bench->idle);
        pass(bench, MS(60));
    }
}

static void random_run(uint64_t seed, const char *settings)
{
    struct bench bench;
    int64_t sent = 0;
    int64_t credited = 0;
    uint32_t sound = 0;
    uint32_t money = 0;
    ready_begin(&bench, settings, CFOIL_ACCEPT_ALL);
    for (int note = 0; note < 60; note++) {
        uint32_t count = 1u << random_below(&seed, 3);
        note_feed(&bench, &seed, count);
        pass(&bench, MS(600 + random_below(&seed, 500)));
        sent += 500 * (int64_t)count;
        for (uint32_t i = 0; i < bench.event_count; i++) {
            credited += bench.events[i].value_minor;
            money += bench.events[i].kind == CFOIL_KIND_STACKED;
            sound += bench.events[i].value_minor == 500 * (int64_t)count;
        }
        assert_true(credited <= sent); /* never more than was sent */
        bench.event_count = 0;
        bench.state_count = 1;
    }
    assert_true(sound > 20 && money >= sound);
    bench_end(&bench);
}

static void test_random_trains(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 200; seed++) {
        random_run(seed, PLAIN);
        random_run(seed, TABLE);
    }
}

/* Random line states at random times: whatever they are, no pulse counts that was not there. */
static void test_random_lines(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 200; seed++) {
        struct bench bench;
        uint64_t random = seed;
        bool active = false;
        uint32_t edges = 0;
        int64_t credited = 0;
        ready_begin(&bench, PLAIN ";debounce_ms=0", CFOIL_ACCEPT_ALL);
        for (int i = 0; i < 400; i++) {
            bool next = random_below(&random, 2) == 1;
            edges += next && !active;
            active = next;
            line(&bench, active ? bench.pulse : bench.idle);
            pass(&bench, random_below(&random, 10) == 0 ? MS(500) : MS(5 + random_below(&random, 90)));
            for (uint32_t event = 0; event < bench.event_count; event++)
                credited += bench.events[event].value_minor;
            assert_true(credited <= 500 * (int64_t)edges);
            bench.event_count = 0;
            bench.state_count = 1;
        }
        bench_end(&bench);
        bench.event_count = 0;
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_random_trains),
        cmocka_unit_test(test_random_lines),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
