/*
 * How long from the last byte on the socket until the host's wait returns, against a bare blocking read?
 * Three receivers on the same kind of loopback socket, in turn in one run: a bare blocking read; a bare blocking read
 * in a thread that hands over by a condition variable (what any design with an own device thread must pay); our lane.
 */
#include "bench.h"

#include <arpa/inet.h>
#include <counterfoil/adapter.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <pthread.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { ROUNDS = 20, SAMPLES = 500 };

/* ---- An adapter that turns each byte into an event ---- */

struct echo_state {
    const cfoil_adapter_host *host;
};

static int32_t echo_open(void *state, const cfoil_adapter_start *start)
{
    ((struct echo_state *)state)->host = start->host;
    return CFOIL_OK;
}

static uint64_t echo_step(void *state, const cfoil_adapter_input *input)
{
    const struct echo_state *echo = state;
    for (uint32_t i = 0; i < input->length; i++) {
        cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
        event.kind = CFOIL_KIND_REJECTED;
        event.raw_length = 1;
        event.raw[0] = input->bytes[i];
        echo->host->event(echo->host->user, &event);
    }
    return UINT64_MAX;
}

static int32_t echo_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    (void)state;
    (void)command;
    (void)argument;
    (void)now_us;
    return CFOIL_OK;
}

static const cfoil_adapter echo_adapter = {
    .struct_size = sizeof(cfoil_adapter),
    .api_version = CFOIL_ADAPTER_API,
    .id = "bench",
    .name = "One event a byte",
    .maturity = CFOIL_MATURITY_EXPERIMENTAL,
    .frame_max = 64,
    .state_size = sizeof(struct echo_state),
    .line = {9600, 8, 1, CFOIL_PARITY_NONE},
    .answer_max_ms = 60000,
    .open = echo_open,
    .step = echo_step,
    .command = echo_command,
};

/* ---- The writing side ---- */

static int listener_open(uint16_t *port)
{
    int listener = socket(AF_INET, SOCK_STREAM, 0);
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t length = sizeof address;
    if (listener < 0 || bind(listener, (struct sockaddr *)&address, length) != 0 || listen(listener, 1) != 0 ||
        getsockname(listener, (struct sockaddr *)&address, &length) != 0)
        bench_fail("listen");
    *port = ntohs(address.sin_port);
    return listener;
}

static int peer_accept(int listener)
{
    int peer = accept(listener, NULL, NULL);
    int one = 1;
    if (peer < 0 || setsockopt(peer, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one) != 0)
        bench_fail("accept");
    return peer;
}

static int client_open(uint16_t port)
{
    struct sockaddr_in address = {
        .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK), .sin_port = htons(port)};
    int client = socket(AF_INET, SOCK_STREAM, 0);
    if (client < 0 || connect(client, (struct sockaddr *)&address, sizeof address) != 0)
        bench_fail("connect");
    return client;
}

struct writer {
    int peer;
    pthread_mutex_t lock;
    pthread_cond_t turn;
    int may_write;
    int stop;
    uint64_t written_ns;
};

/* Waits for its turn, then for the receiver to be blocked again, then writes one byte. */
static void *writer_run(void *user)
{
    struct writer *writer = user;
    pthread_mutex_lock(&writer->lock);
    while (!writer->stop) {
        if (!writer->may_write) {
            pthread_cond_wait(&writer->turn, &writer->lock);
            continue;
        }
        writer->may_write = 0;
        pthread_mutex_unlock(&writer->lock);
        /* A device answers long after the host began to wait: give the receiver that time, on a wait of its own. */
        poll(NULL, 0, 1);
        uint64_t now = bench_now_ns();
        __atomic_store_n(&writer->written_ns, now, __ATOMIC_RELEASE);
        if (send(writer->peer, "E", 1, MSG_NOSIGNAL) != 1)
            bench_fail("send");
        pthread_mutex_lock(&writer->lock);
    }
    pthread_mutex_unlock(&writer->lock);
    return NULL;
}

static void writer_let(struct writer *writer)
{
    pthread_mutex_lock(&writer->lock);
    writer->may_write = 1;
    pthread_cond_signal(&writer->turn);
    pthread_mutex_unlock(&writer->lock);
}

/* ---- The receivers ---- */

struct receiver {
    int client;           /* bare */
    cfoil_lane *lane;     /* ours */
    pthread_mutex_t lock; /* hand-over */
    pthread_cond_t come;
    int bytes;
    int through_thread;
};

static void *handover_run(void *user)
{
    struct receiver *receiver = user;
    char byte;
    while (read(receiver->client, &byte, 1) == 1) {
        pthread_mutex_lock(&receiver->lock);
        receiver->bytes++;
        pthread_cond_signal(&receiver->come);
        pthread_mutex_unlock(&receiver->lock);
    }
    return NULL;
}

static void receive_one(struct receiver *receiver)
{
    if (receiver->lane != NULL) {
        cfoil_event event = CFOIL_EVENT_INIT;
        do {
            if (cfoil_lane_wait(receiver->lane, 10000, &event) != CFOIL_OK)
                bench_fail("cfoil_lane_wait");
        } while (event.kind != CFOIL_KIND_REJECTED);
    } else if (receiver->through_thread) {
        pthread_mutex_lock(&receiver->lock);
        while (receiver->bytes == 0)
            pthread_cond_wait(&receiver->come, &receiver->lock);
        receiver->bytes--;
        pthread_mutex_unlock(&receiver->lock);
    } else {
        char byte;
        if (read(receiver->client, &byte, 1) != 1)
            bench_fail("read");
    }
}

static void samples_take(struct receiver *receiver, struct writer *writer, uint64_t *samples)
{
    for (int i = 0; i < SAMPLES; i++) {
        writer_let(writer);
        receive_one(receiver);
        samples[i] = bench_now_ns() - __atomic_load_n(&writer->written_ns, __ATOMIC_ACQUIRE);
    }
}

static void round_run(int kind, uint64_t *samples)
{
    uint16_t port;
    int listener = listener_open(&port);
    struct receiver receiver = {.client = -1, .through_thread = kind == 1};
    pthread_mutex_init(&receiver.lock, NULL);
    pthread_cond_init(&receiver.come, NULL);
    struct writer writer = {0};
    pthread_mutex_init(&writer.lock, NULL);
    pthread_cond_init(&writer.turn, NULL);
    cfoil_context *context = NULL;
    pthread_t handover;
    if (kind == 2) {
        char text[64];
        snprintf(text, sizeof text, "tcp:127.0.0.1:%u", port);
        cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
        options.adapter = "bench";
        options.port = text;
        if (cfoil_context_open(NULL, &context) != CFOIL_OK ||
            cfoil_adapter_register(context, &echo_adapter) != CFOIL_OK ||
            cfoil_lane_open(context, &options, &receiver.lane) != CFOIL_OK)
            bench_fail("opening a lane");
    } else {
        receiver.client = client_open(port);
    }
    writer.peer = peer_accept(listener);
    pthread_t thread;
    pthread_create(&thread, NULL, writer_run, &writer);
    if (kind == 1)
        pthread_create(&handover, NULL, handover_run, &receiver);
    samples_take(&receiver, &writer, samples);
    pthread_mutex_lock(&writer.lock);
    writer.stop = 1;
    pthread_cond_signal(&writer.turn);
    pthread_mutex_unlock(&writer.lock);
    pthread_join(thread, NULL);
    close(writer.peer);
    if (kind == 1)
        pthread_join(handover, NULL);
    if (kind == 2)
        cfoil_context_close(context);
    else
        close(receiver.client);
    close(listener);
}

int main(void)
{
    static uint64_t samples[3][ROUNDS * SAMPLES];
    for (int round = 0; round < ROUNDS; round++) {
        for (int kind = 0; kind < 3; kind++)
            round_run(kind, samples[kind] + round * SAMPLES);
    }
    static const char *const names[] = {"bare blocking read", "bare read + hand-over", "lane"};
    double median[3];
    double tail[3];
    for (int kind = 0; kind < 3; kind++) {
        median[kind] = (double)bench_percentile(samples[kind], ROUNDS * SAMPLES, 0.5);
        tail[kind] = (double)bench_percentile(samples[kind], ROUNDS * SAMPLES, 0.99);
        printf("latency %-22s p50 %7.1f us  p99 %7.1f us  ratio to bare read: p50 %.2f  p99 %.2f\n", names[kind],
               median[kind] / 1000, tail[kind] / 1000, median[kind] / median[0], tail[kind] / tail[0]);
    }
    printf("latency lane against bare read + hand-over: p50 %.2f  p99 %.2f\n", median[2] / median[1],
           tail[2] / tail[1]);
    return 0;
}
