/*
 * A made-up history of presentations, the same in every run, as lines of an event history: for benchmarks of size.
 */
#ifndef EVENTS_H
#define EVENTS_H

#include <inttypes.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

enum { EVENT_LINE_SIZE = 1024, EVENT_LANES = 20 };

/* Of 2023-01-02T08:00Z; the shops are open 12 hours a day. */
#define EVENT_BEGIN_MS INT64_C(1672646400000)

struct event_line {
    char text[EVENT_LINE_SIZE];
    size_t length;
    int64_t time_utc_ms;
};

static inline uint64_t event_random(uint64_t number)
{
    /* The finalizer of Steele, Lea and Flood's splitmix64. */
    number += UINT64_C(0x9E3779B97F4A7C15);
    number = (number ^ (number >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    number = (number ^ (number >> 27)) * UINT64_C(0x94D049BB133111EB);
    return number ^ (number >> 31);
}

/* Spread over so many days of opening. */
static inline int64_t event_time(uint64_t index, uint64_t count, uint32_t days)
{
    const int64_t open_ms = INT64_C(43200000);
    int64_t opened_ms = (int64_t)((double)index / (double)count * (double)days * (double)open_ms);
    return EVENT_BEGIN_MS + opened_ms / open_ms * 86400000 + opened_ms % open_ms;
}

static inline void event_time_text(int64_t time_utc_ms, char text[32])
{
    time_t seconds = (time_t)(time_utc_ms / 1000);
    struct tm parts;
    char whole[24];
    gmtime_r(&seconds, &parts);
    strftime(whole, sizeof whole, "%Y-%m-%dT%H:%M:%S", &parts);
    snprintf(text, 32, "%s.%03dZ", whole, (int)(time_utc_ms % 1000));
}

/* What the machine said: keys in the order in which cfoil_event_json() writes them. */
static inline int event_outcome(uint64_t random, char *text, size_t size)
{
    static const int values[] = {500, 1000, 2000, 5000, 10000};
    static const char names[] = "ABCDE";
    static const char *const channels[] = {"image", "infrared", "magnetic"};
    unsigned note = (unsigned)(random >> 8) % 5;
    unsigned chance = (unsigned)(random >> 16) % 1000;
    if (chance >= 60)
        return snprintf(text, size,
                        "\"currency\":\"EUR\",\"value_minor\":%d,\"note_type\":%u,\"note_name\":\"EU%04d%c\","
                        "\"reason\":null,\"findings\":[],\"raw\":\"%u,0\",\"raw_hex\":\"%02x00\","
                        "\"lane_state\":\"accepting\",\"text\":\"The note is in the box.\"",
                        values[note], note + 1, values[note] / 100, names[note], note + 1, note + 1);
    if (chance >= 35)
        return snprintf(text, size,
                        "\"currency\":null,\"value_minor\":null,\"reason\":\"authenticity\",\"reasons_possible\":"
                        "[\"authenticity\"],\"findings\":[{\"channel\":\"%s\",\"strength\":\"clear\",\"origin\":"
                        "\"device\"}],\"raw\":\"0,2\",\"raw_hex\":\"0002\",\"lane_state\":\"accepting\",\"text\":"
                        "\"A feature of the note could not be confirmed.\"",
                        channels[(random >> 40) % 3]);
    return snprintf(text, size,
                    "\"currency\":null,\"value_minor\":null,\"reason\":\"handling\",\"reasons_possible\":"
                    "[\"handling\"],\"findings\":[],\"raw\":\"0,3\",\"raw_hex\":\"0003\",\"lane_state\":\"accepting\","
                    "\"text\":\"The note could not be drawn in.\"");
}

static inline void event_line_make(uint64_t index, uint64_t count, uint32_t days, struct event_line *line)
{
    char time[32];
    char outcome[600];
    uint64_t random = event_random(index);
    uint64_t id = event_random(~index);
    line->time_utc_ms = event_time(index, count, days);
    event_time_text(line->time_utc_ms, time);
    event_outcome(random, outcome, sizeof outcome);
    uint64_t stamp = (uint64_t)line->time_utc_ms;
    int length = snprintf(line->text, sizeof line->text,
                          "{\"record\":\"%08" PRIx64 "-%04" PRIx64 "-7%03x-8%03x-%012" PRIx64
                          "\",\"lane\":\"lane %02u\",\"schema\":\"counterfoil.event/1\",\"seq\":%" PRIu64
                          ",\"time\":\"%s\",\"kind\":\"%s\",\"presentation\":%" PRIu64 ",%s}\n",
                          stamp >> 16, stamp & 0xFFFF, (unsigned)(id & 0xFFF), (unsigned)(id >> 12 & 0xFFF),
                          id >> 16 & UINT64_C(0xFFFFFFFFFFFF), (unsigned)(random >> 48) % EVENT_LANES + 1, index + 1,
                          time, strstr(outcome, "\"reason\":null") != NULL ? "stacked" : "rejected", index + 1,
                          outcome);
    line->length = (size_t)length;
}

#endif
