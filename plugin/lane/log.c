/*
 * What does a lane tell the log, and how is a fault that repeats kept from flooding it?
 */
#include "lane/parts.h"
#include "model/error.h"
#include "model/text.h"
#include "os/os.h"

#include <stdio.h>
#include <string.h>

/* So many records of one key in so long a time; the next one after that tells how many were left out. */
#define WINDOW_US  UINT64_C(10000000)
#define WINDOW_MAX 5

static struct log_key *key_find(struct lane *lane, const char *key, uint64_t now_us)
{
    struct log_key *oldest = lane->log_keys;
    for (int i = 0; i < LOG_KEYS_MAX; i++) {
        struct log_key *item = &lane->log_keys[i];
        if (strcmp(item->key, key) == 0)
            return item;
        if (item->key[0] == '\0' || (oldest->key[0] != '\0' && item->since_us < oldest->since_us))
            oldest = item;
    }
    *oldest = (struct log_key){.since_us = now_us};
    text_copy(oldest->key, sizeof oldest->key, key);
    return oldest;
}

/* May a record of this key be written? *left_out = how many were not, since the last one. */
static bool rate_allows(struct lane *lane, const char *key, uint64_t now_us, uint32_t *left_out)
{
    char known[sizeof lane->log_keys[0].key];
    text_copy(known, sizeof known, key);
    struct log_key *item = key_find(lane, known, now_us);
    *left_out = 0;
    if (now_us - item->since_us >= WINDOW_US) {
        *left_out = item->count > WINDOW_MAX ? item->count - WINDOW_MAX : 0;
        item->since_us = now_us;
        item->count = 0;
    }
    return ++item->count <= WINDOW_MAX;
}

void lane_log_write(struct lane *lane, int32_t level, const cfoil_error_info *about, const char *area, const char *key,
                    const char *text)
{
    if (lane->log.write == NULL || level > lane->log.level)
        return;
    uint64_t now_us = lane_clock(lane);
    uint32_t left_out;
    if (!rate_allows(lane, key, now_us, &left_out))
        return;
    char line[400];
    text_copy(line, 320, text);
    if (left_out > 0)
        (void)snprintf(line + strlen(line), 64, " (%u more like it were left out)", (unsigned)left_out);
    cfoil_log_record record = {
        .struct_size = sizeof record,
        .level = level,
        .result = about != NULL ? about->result : CFOIL_OK,
        .os_code = about != NULL ? about->os_code : 0,
        .monotonic_us = now_us,
        .area = area,
        .lane = lane->name,
        .key = key,
        .text = line,
    };
    lane->log.write(lane->log.user, &record);
}

void lane_trouble(struct lane *lane, int32_t level, const char *key, const cfoil_error_info *error)
{
    os_mutex_lock(lane->lock);
    lane->error = *error;
    os_mutex_unlock(lane->lock);
    lane_log_write(lane, level, error, error->area, key, error->text);
}
