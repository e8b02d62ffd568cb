/*
 * What does recognising ccTalk frames cost, against a bare loop that only adds up the bytes?
 * Two floors, in turn with the decoder in one run over the same bytes: one sum over the whole buffer, which knows
 * nothing of frames, and one sum a frame with the frame lengths already known. Both ratios
 * are printed. The first floor has no branch that depends on a frame, so compilers may use vectors for it.
 */
#include "bench.h"

#include "cctalk/wire.h"

#include <string.h>

enum { BUFFER_BYTES = 1 << 20, ROUNDS = 200, WARM_UP = 5 };

struct traffic {
    const char *name;
    uint32_t length;
    uint32_t frames;
    uint8_t bytes[BUFFER_BYTES];
    uint16_t frame_lengths[BUFFER_BYTES / CCTALK_FRAME_MIN];
};

/* Everything measured ends here and is printed, so that no loop can be left out. */
static uint64_t consumed;

static uint32_t random_next(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return *seed >> 8;
}

/* ---- Traffic ---- */

static int frame_add(struct traffic *traffic, const struct cctalk_frame *frame)
{
    uint8_t bytes[CCTALK_FRAME_MAX];
    uint32_t length = cctalk_frame_build(CCTALK_CHECK_SUM, frame, bytes);
    if (length == 0)
        bench_fail("building a frame");
    if (traffic->length + length > BUFFER_BYTES)
        return 0;
    memcpy(traffic->bytes + traffic->length, bytes, length);
    traffic->frame_lengths[traffic->frames++] = (uint16_t)length;
    traffic->length += length;
    return 1;
}

static void data_fill(struct cctalk_frame *frame, uint8_t length, uint32_t *seed)
{
    frame->length = length;
    for (uint32_t i = 0; i < length; i++)
        frame->data[i] = (uint8_t)random_next(seed);
}

/* A lane at rest as the host hears it: the echo of 'read buffered bill events' and its answer of 11 bytes; after every
 * 16th the inhibits are read too (2 bytes). */
static void polling_make(struct traffic *traffic)
{
    struct cctalk_frame request = {.destination = 40, .source = 1, .header = 159};
    struct cctalk_frame answer = {.destination = 1, .source = 40};
    uint32_t seed = 1;
    for (uint32_t poll = 1;; poll++) {
        request.header = poll % 16 == 0 ? 230 : 159;
        data_fill(&answer, poll % 16 == 0 ? 2 : 11, &seed);
        if (!frame_add(traffic, &request) || !frame_add(traffic, &answer))
            return;
    }
}

/* Lengths of 0 to 11 in no order: worse than any real conversation, since no branch can be foreseen. */
static void mixed_make(struct traffic *traffic)
{
    struct cctalk_frame frame = {.destination = 1, .source = 40};
    uint32_t seed = 2;
    do {
        data_fill(&frame, (uint8_t)(random_next(&seed) % 12), &seed);
    } while (frame_add(traffic, &frame));
}

static void longest_make(struct traffic *traffic)
{
    struct cctalk_frame frame = {.destination = 1, .source = 40};
    uint32_t seed = 3;
    do {
        data_fill(&frame, CCTALK_DATA_MAX, &seed);
    } while (frame_add(traffic, &frame));
}

/* ---- The three ways over the bytes ---- */

static uint32_t sum_whole(const struct traffic *traffic)
{
    uint32_t sum = 0;
    for (uint32_t i = 0; i < traffic->length; i++)
        sum += traffic->bytes[i];
    return sum;
}

static uint32_t sum_each(const struct traffic *traffic)
{
    uint32_t good = 0;
    const uint8_t *bytes = traffic->bytes;
    for (uint32_t frame = 0; frame < traffic->frames; frame++) {
        uint32_t sum = 0;
        for (uint32_t i = 0; i < traffic->frame_lengths[frame]; i++)
            sum += bytes[i];
        good += (sum & 0xFF) == 0;
        bytes += traffic->frame_lengths[frame];
    }
    return good;
}

static uint32_t decode(const struct traffic *traffic)
{
    static struct cctalk_frame frame;
    uint32_t frames = 0;
    uint32_t heads = 0;
    for (uint32_t place = 0; place < traffic->length; frames++) {
        uint32_t used;
        if (cctalk_frame_parse(CCTALK_CHECK_SUM, traffic->bytes + place, traffic->length - place, &frame, &used) !=
            CCTALK_FRAME)
            bench_fail("parsing a valid frame");
        heads += frame.header;
        place += used;
    }
    if (frames != traffic->frames)
        bench_fail("finding every frame");
    return heads;
}

/* ---- Measuring ---- */

enum way { WHOLE, EACH, DECODE, WAYS };

static uint64_t time_one(enum way way, const struct traffic *traffic)
{
    static uint32_t (*const ways[WAYS])(const struct traffic *) = {sum_whole, sum_each, decode};
    uint64_t start = bench_now_ns();
    consumed += ways[way](traffic);
    return bench_now_ns() - start;
}

static double megabytes_a_second(const struct traffic *traffic, double ns)
{
    return (double)traffic->length * 1000.0 / ns;
}

/* The middle of the ratios within each round: what else the machine does then strikes both sides alike. */
static double ratio_of_rounds(const uint64_t *times, const uint64_t *floor)
{
    static uint64_t thousandths[ROUNDS];
    for (int round = 0; round < ROUNDS; round++)
        thousandths[round] = times[round] * 1000 / floor[round];
    return (double)bench_percentile(thousandths, ROUNDS, 0.5) / 1000;
}

static void traffic_measure(const struct traffic *traffic)
{
    static uint64_t samples[WAYS][ROUNDS];
    for (int round = -WARM_UP; round < ROUNDS; round++) {
        for (int way = 0; way < WAYS; way++) {
            uint64_t spent = time_one((enum way)way, traffic);
            if (round >= 0)
                samples[way][round] = spent;
        }
    }
    double to_whole = ratio_of_rounds(samples[DECODE], samples[WHOLE]);
    double to_each = ratio_of_rounds(samples[DECODE], samples[EACH]);
    double speed[WAYS];
    for (int way = 0; way < WAYS; way++)
        speed[way] = megabytes_a_second(traffic, (double)bench_percentile(samples[way], ROUNDS, 0.5));
    printf("frame   %-20s bare sum loop %5.0f MB/s  frame decode %5.0f MB/s  ratio of times %5.2f\n", traffic->name,
           speed[WHOLE], speed[DECODE], to_whole);
    printf("frame   %-20s   sum a frame %5.0f MB/s  frame decode %5.0f MB/s  ratio of times %5.2f\n", traffic->name,
           speed[EACH], speed[DECODE], to_each);
}

int main(void)
{
    static struct traffic polling = {.name = "polling"};
    static struct traffic mixed = {.name = "0 to 11 bytes, mixed"};
    static struct traffic longest = {.name = "252 bytes"};
    polling_make(&polling);
    mixed_make(&mixed);
    longest_make(&longest);
    traffic_measure(&polling);
    traffic_measure(&mixed);
    traffic_measure(&longest);
    return consumed == 0; /* never, with this traffic */
}
