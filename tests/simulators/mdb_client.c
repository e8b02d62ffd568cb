/* How does a test play the host of a bus controller? */
#include "mdb_client.h"

#include <sys/socket.h>

/* Bits are taken lowest first; the register keeps the highest power in bit 15, and is turned round at the end. */
unsigned check_16(const uint8_t *bytes, size_t count)
{
    unsigned remainder = 0xFFFF;
    for (size_t i = 0; i < 8 * count; i++) {
        unsigned bit = (unsigned)bytes[i / 8] >> (i % 8) & 1U;
        unsigned top = remainder >> 15 & 1U;
        remainder = remainder << 1 & 0xFFFFU;
        if (bit != top)
            remainder ^= 0x1021U;
    }
    unsigned turned = 0;
    for (int i = 0; i < 16; i++)
        turned |= (remainder >> i & 1U) << (15 - i);
    return turned ^ 0xFFFFU;
}

size_t frame_make(const struct packet *packet, uint8_t frame[FRAME_MOST])
{
    uint8_t content[FRAME_MOST];
    content[0] = (uint8_t)packet->kind;
    content[1] = (uint8_t)packet->number;
    memcpy(content + 2, packet->payload, packet->length);
    size_t length = packet->length + 2;
    unsigned check = check_16(content, length);
    content[length++] = (uint8_t)(check & 0xFFU);
    content[length++] = (uint8_t)(check >> 8);
    size_t count = 0;
    frame[count++] = 0x7E;
    for (size_t i = 0; i < length; i++) {
        if (content[i] == 0x7E || content[i] == 0x7D) {
            frame[count++] = 0x7D;
            frame[count++] = content[i] ^ 0x20U;
        } else {
            frame[count++] = content[i];
        }
    }
    frame[count++] = 0x7E;
    return count;
}

void packet_send(const struct host *host, int kind, int number, const uint8_t *payload, size_t length)
{
    struct packet packet = {.kind = kind, .number = number, .length = length};
    uint8_t frame[FRAME_MOST];
    if (length > 0)
        memcpy(packet.payload, payload, length);
    size_t count = frame_make(&packet, frame);
    assert_int_equal(send(host->run.client, frame, count, MSG_NOSIGNAL), count);
}

/* Content between two flags, unstuffed; gives its length. */
static size_t content_hear(const struct host *host, uint8_t content[FRAME_MOST])
{
    size_t length = 0;
    bool escaped = false;
    for (uint8_t byte = 0;;) {
        hear_bytes(&host->run, &byte, 1);
        if (byte == 0x7E && length > 0)
            return length;
        if (byte == 0x7D || byte == 0x7E || length == FRAME_MOST) {
            escaped = byte == 0x7D;
            continue;
        }
        content[length++] = escaped ? byte ^ 0x20U : byte;
        escaped = false;
    }
}

static void number_acknowledge(const struct host *host, int number)
{
    packet_send(host, ACKNOWLEDGE, 0, (const uint8_t[]){(uint8_t)number}, 1);
}

struct packet packet_hear(const struct host *host)
{
    for (;;) {
        uint8_t content[FRAME_MOST];
        size_t length = content_hear(host, content);
        if (length < 4 || check_16(content, length - 2) != (content[length - 2] | (unsigned)content[length - 1] << 8))
            continue;
        struct packet packet = {.kind = content[0], .number = content[1], .length = length - 4};
        memcpy(packet.payload, content + 2, packet.length);
        bool again = (packet.kind == BLOCK || packet.kind == FAULT) && packet.number == host->seen;
        if (!again)
            return packet;
        number_acknowledge(host, packet.number);
    }
}

void host_hello(struct host *host)
{
    const uint8_t payload[] = {1, (uint8_t)host->session, 0, 0, 0x7E};
    host->number = 0;
    host->seen = 0;
    packet_send(host, HELLO, 0, payload, sizeof payload);
    struct packet answer = packet_hear(host);
    while (answer.kind != HELLO) /* what was still under way */
        answer = packet_hear(host);
    assert_int_equal(answer.number, 1); /* an answer, which gets none */
    assert_int_equal(answer.length, 5);
    assert_int_equal(answer.payload[0], 1);
}

void host_start(struct host *host, const char *script)
{
    *host = (struct host){.session = 1};
    run_start(&host->run, script);
    host_hello(host);
}

void host_end(struct host *host, int status)
{
    run_end(&host->run, status);
}

/* Gives how many bytes. */
static size_t words_parse(const char *text, uint8_t bytes[PAYLOAD_MOST])
{
    size_t count = 0;
    while (*text != '\0') {
        char *end = NULL;
        unsigned long word = strtoul(text, &end, 16);
        bytes[count++] = (uint8_t)(word & 0xFF);
        bytes[count++] = (uint8_t)(word >> 8 | (*end == '*' ? 1U : 0U));
        text = end + (*end == '*');
        text += *text == ' ';
    }
    return count;
}

void acknowledge(struct host *host, const struct packet *packet)
{
    assert_int_not_equal(packet->number, 0);
    number_acknowledge(host, packet->number);
    host->seen = packet->number;
}

void expect_block(struct host *host, const char *words)
{
    uint8_t expected[PAYLOAD_MOST];
    size_t length = words_parse(words, expected);
    struct packet packet = packet_hear(host);
    assert_int_equal(packet.kind, BLOCK);
    assert_int_equal(packet.length, length);
    assert_memory_equal(packet.payload, expected, length);
    acknowledge(host, &packet);
}

void expect_fault(struct host *host, int what)
{
    struct packet packet = packet_hear(host);
    assert_int_equal(packet.kind, FAULT);
    assert_int_equal(packet.length, 1);
    assert_int_equal(packet.payload[0], what);
    acknowledge(host, &packet);
}

void words_send(struct host *host, const char *words)
{
    uint8_t payload[PAYLOAD_MOST];
    size_t length = words_parse(words, payload);
    host->number = host->number == 255 ? 1 : host->number + 1;
    packet_send(host, SEND, host->number, payload, length);
    struct packet packet = packet_hear(host);
    assert_int_equal(packet.kind, ACKNOWLEDGE);
    assert_int_equal(packet.number, 0);
    assert_int_equal(packet.length, 1);
    assert_int_equal(packet.payload[0], host->number);
}

void ask(struct host *host, const char *words, const char *answer)
{
    words_send(host, words);
    expect_block(host, answer);
}

/* The ACK word is not repeated on the bus, so nothing answers it. */
void expect_silence(struct host *host, const char *words)
{
    words_send(host, words);
    words_send(host, "00");
}

void expect_poll(struct host *host, const char *answer)
{
    int64_t until = now_ms() + DEADLINE_MS;
    uint8_t expected[PAYLOAD_MOST];
    size_t length = words_parse(answer, expected);
    struct packet packet = {.length = 2, .payload = {0, 1}};
    while (packet.length == 2 && packet.payload[0] == 0) {
        assert_true(now_ms() < until);
        words_send(host, POLL_WORDS);
        packet = packet_hear(host);
        assert_int_equal(packet.kind, BLOCK);
        acknowledge(host, &packet);
    }
    assert_int_equal(packet.length, length);
    assert_memory_equal(packet.payload, expected, length);
}

void expect_poll_after_silence(struct host *host, const char *answer)
{
    int64_t until = now_ms() + DEADLINE_MS;
    do {
        assert_true(now_ms() < until);
        words_send(host, POLL_WORDS);
    } while (!readable(host->run.client, now_ms() + 50));
    expect_block(host, answer);
}

void expect_started(struct host *host)
{
    expect_poll(host, "06 06*");
}
