/* How does a test talk ccTalk to the simulator? */
#include "cctalk_client.h"

#include <sys/socket.h>

size_t bytes_parse(const char *text, uint8_t bytes[BYTES_MOST])
{
    size_t count = 0;
    char *end = NULL;
    for (const char *at = text; *at != '\0'; at = *end == ' ' ? end + 1 : end)
        bytes[count++] = (uint8_t)strtoul(at, &end, 10);
    return count;
}

void say(const struct run *run, const char *text)
{
    uint8_t bytes[BYTES_MOST];
    size_t count = bytes_parse(text, bytes);
    assert_int_equal(send(run->client, bytes, count, MSG_NOSIGNAL), count);
}

void hear(const struct run *run, const char *text)
{
    uint8_t expected[BYTES_MOST];
    uint8_t heard[BYTES_MOST];
    size_t count = bytes_parse(text, expected);
    hear_bytes(run, heard, count);
    assert_memory_equal(heard, expected, count);
}

void exchange(const struct run *run, const char *request, const char *answer)
{
    say(run, request);
    hear(run, answer);
}

void expect_silence(const struct run *run, const char *request)
{
    say(run, request);
    exchange(run, POLL, ACK);
}

void expect_events(const struct run *run, const char *answer)
{
    uint8_t expected[BYTES_MOST];
    uint8_t heard[16] = {0};
    bytes_parse(answer, expected);
    int64_t until = now_ms() + DEADLINE_MS;
    while (heard[4] != expected[4] || heard[1] == 0) {
        assert_true(now_ms() < until);
        say(run, EVENTS);
        hear_bytes(run, heard, sizeof heard);
    }
    assert_memory_equal(heard, expected, sizeof heard);
}

void expect_restart(const struct run *run)
{
    int64_t until = now_ms() + DEADLINE_MS;
    do {
        assert_true(now_ms() < until);
        say(run, POLL);
    } while (!readable(run->client, now_ms() + 20));
    hear(run, ACK);
}

void enable(const struct run *run)
{
    exchange(run, ENABLE_TYPES, ACK);
    exchange(run, "40 1 1 153 3 58", ACK);
    exchange(run, MASTER_OPEN, ACK);
}
